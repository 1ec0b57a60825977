package guard

// What every answer tells the browser. The pages use nothing from elsewhere, no inline script and no inline style, so the policy needs
// no exceptions.

import (
	"net/http"
	"strings"
)

// contentPolicy allows what the server itself sends and nothing else. blob: lets the page show a photo that was chosen but not yet
// sent; data: is not needed by anything.
var contentPolicy = strings.Join([]string{
	"default-src 'none'",
	"script-src 'self'",
	"style-src 'self'",
	"img-src 'self' blob:",
	"font-src 'self'",
	"connect-src 'self'",
	"manifest-src 'self'",
	"form-action 'self'",
	"base-uri 'none'",
	"frame-ancestors 'none'",
}, "; ")

// unusedFeatures are what no page of ours asks for. Photos come through a file field, which needs no permission.
var unusedFeatures = strings.Join([]string{
	"accelerometer=()", "autoplay=()", "camera=()", "display-capture=()", "geolocation=()", "gyroscope=()", "hid=()",
	"magnetometer=()", "microphone=()", "midi=()", "payment=()", "publickey-credentials-get=()", "serial=()", "usb=()",
}, ", ")

// setHeaders writes the headers that every answer carries; a handler may only replace Cache-Control and Content-Type.
//
// Referrer-Policy is same-origin, not no-referrer: under the latter a browser sends "Origin: null" with our own forms (Fetch standard,
// "append a request Origin header"), and tablets too old for Sec-Fetch-Site would be locked out. Outside hosts learn nothing either way.
//
// No Strict-Transport-Security: with a self-made certificate it would forbid the technician to accept it.
func setHeaders(h http.Header) {
	h.Set("Content-Security-Policy", contentPolicy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY") // for browsers older than frame-ancestors
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Permissions-Policy", unusedFeatures)
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
}
