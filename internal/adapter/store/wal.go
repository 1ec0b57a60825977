package store

// A database as its write-ahead log leaves it, without writing to either.
//
// After a crash what counts is the file together with the log beside it. SQLite would fold the one into the other as soon as it
// opens them; here both are only read, and SQLite gets to see the file with the confirmed pages of the log laid over it. That needs no
// space on the disk, which may be full. The log's format: https://www.sqlite.org/fileformat2.html#walformat

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
	"io/fs"
	"os"
	"time"
)

const (
	walHeader   = 32
	frameHeader = 24
	walMagic    = 0x377f0682 // the last bit set: checksums over big-endian words
	walFormat   = 3007000
)

// overlaid is the file under its log. It is an fs.FS with one file in it, and that file.
type overlaid struct {
	file, log *os.File
	page      int64           // bytes
	size      int64           // bytes, as the log leaves it
	newest    map[int64]int64 // page, from 0 → where in the log its newest confirmed content begins
	at        int64           // next byte to read
}

// overlaidName is the only name that it knows.
const overlaidName = "workshop"

func overlay(path string) (_ *overlaid, err error) {
	o := &overlaid{newest: map[int64]int64{}}
	defer func() {
		if err != nil {
			_ = o.done()
		}
	}()
	if o.file, err = os.Open(path); err != nil {
		return nil, err
	}
	if o.log, err = os.Open(path + "-wal"); err != nil {
		return nil, err
	}
	info, err := o.file.Stat()
	if err != nil {
		return nil, err
	}
	o.page, o.size = 1<<16, info.Size()
	return o, o.readLog()
}

func (o *overlaid) done() error { return errors.Join(o.file.Close(), o.log.Close()) }

// readLog finds the newest confirmed content of each page. The log ends where a checksum or a mark does not fit: behind it lie the
// rests of an earlier log, or what was being written when the process ended.
func (o *overlaid) readLog() error {
	r := bufio.NewReaderSize(o.log, 1<<18)
	head := make([]byte, walHeader)
	if _, err := io.ReadFull(r, head); err != nil {
		return ended(err)
	}
	be := binary.BigEndian
	var order binary.ByteOrder = binary.LittleEndian
	if be.Uint32(head)&1 == 1 {
		order = be
	}
	page := int64(be.Uint32(head[8:]))
	sum := chain{order: order}
	sum.add(head[:24])
	if be.Uint32(head)&^1 != walMagic || be.Uint32(head[4:]) != walFormat || page < 512 || page > 1<<16 || page&(page-1) != 0 || !sum.is(head[24:]) {
		return nil
	}
	o.page = page
	frame := make([]byte, frameHeader+page)
	pending := map[int64]int64{}
	for at := int64(walHeader); ; at += int64(len(frame)) {
		if _, err := io.ReadFull(r, frame); err != nil {
			return ended(err)
		}
		number, pages := int64(be.Uint32(frame)), int64(be.Uint32(frame[4:]))
		sum.add(frame[:8])
		sum.add(frame[frameHeader:])
		if number == 0 || string(frame[8:16]) != string(head[16:24]) || !sum.is(frame[16:]) {
			return nil
		}
		pending[number-1] = at + frameHeader
		if pages > 0 { // the last frame of a transaction says how large the file then is
			for k, v := range pending {
				o.newest[k] = v
			}
			clear(pending)
			o.size = pages * page
		}
	}
}

// ended makes the end of the log no error.
func ended(err error) error {
	if err == io.EOF || err == io.ErrUnexpectedEOF {
		return nil
	}
	return err
}

// chain is the log's running checksum.
type chain struct {
	order  binary.ByteOrder
	s1, s2 uint32
}

func (c *chain) add(b []byte) {
	for ; len(b) >= 8; b = b[8:] {
		c.s1 += c.order.Uint32(b) + c.s2
		c.s2 += c.order.Uint32(b[4:]) + c.s1
	}
}

func (c *chain) is(b []byte) bool {
	return binary.BigEndian.Uint32(b) == c.s1 && binary.BigEndian.Uint32(b[4:]) == c.s2
}

// Open gives the one file; each has its own place to read on.
func (o *overlaid) Open(name string) (fs.File, error) {
	if name != overlaidName {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	again := *o
	again.at = 0
	return &again, nil
}

// Read gives bytes up to the end of a page.
func (o *overlaid) Read(p []byte) (int, error) {
	if o.at >= o.size {
		return 0, io.EOF
	}
	number, within := o.at/o.page, o.at%o.page
	p = p[:min(int64(len(p)), o.page-within, o.size-o.at)]
	from, at := o.file, o.at
	if frame, ok := o.newest[number]; ok {
		from, at = o.log, frame+within
	}
	n, err := from.ReadAt(p, at)
	o.at += int64(n)
	if n > 0 {
		err = nil // what is missing comes up with the next read
	}
	return n, err
}

func (o *overlaid) Seek(offset int64, whence int) (int64, error) {
	if whence != io.SeekStart || offset < 0 {
		return 0, fs.ErrInvalid
	}
	o.at = offset
	return offset, nil
}

func (o *overlaid) Close() error { return nil } // done closes the real ones

func (o *overlaid) Stat() (fs.FileInfo, error) { return overlaidInfo(o.size), nil }

// overlaidInfo is a size; nothing else of it is asked for.
type overlaidInfo int64

func (overlaidInfo) Name() string       { return overlaidName }
func (i overlaidInfo) Size() int64      { return int64(i) }
func (overlaidInfo) Mode() fs.FileMode  { return 0o400 }
func (overlaidInfo) ModTime() time.Time { return time.Time{} }
func (overlaidInfo) IsDir() bool        { return false }
func (overlaidInfo) Sys() any           { return nil }
