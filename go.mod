module halfsplit

go 1.26.0

require (
	github.com/goccy/go-yaml v1.19.2 // indirect
	golang.org/x/tools v0.52.0 // indirect
	pgregory.net/rapid v1.3.0 // indirect
)
