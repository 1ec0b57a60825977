package store

// A backup is a tar archive of exactly two files, backup.json (the manifest) and workshop.db (the database), in this order, not
// compressed. Any tar program opens it and any SHA-256 program checks it.

import (
	"archive/tar"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"time"
)

const (
	manifestName = "backup.json"
	databaseName = "workshop.db"
	backupFormat = "halfsplit backup 1"

	// largestBackup is the largest database, in bytes, that the plain tar format can hold: 8 GiB less one byte.
	largestBackup = 1<<33 - 1
)

// manifest is what backup.json says about workshop.db.
type manifest struct {
	Format  string    `json:"format"`
	Version int64     `json:"version"` // of the database
	Size    int64     `json:"size"`    // bytes
	SHA256  string    `json:"sha256"`  // hex
	Made    time.Time `json:"made"`
}

// Backup writes everything as one file; see app.Store. Others go on writing meanwhile; the backup holds what was confirmed when it began.
// It needs as much free space beside the workshop file, or else where the system keeps temporary files, as the backup is large, for a
// copy that is removed afterwards.
func (s *Store) Backup(ctx context.Context, w io.Writer) error {
	dir, err := s.copyInto(ctx, filepath.Dir(s.path))
	if errors.Is(s.explain("write a backup", err), ErrFull) { // just when a backup is wanted most
		dir, err = s.copyInto(ctx, os.TempDir())
	}
	if err != nil {
		return s.explain("write a backup", err)
	}
	defer os.RemoveAll(dir)
	name := filepath.Join(dir, databaseName)
	m := manifest{Format: backupFormat, Made: time.Now().UTC().Truncate(time.Second), Size: size(name)}
	if m.Version, err = newestVersion(s.known); err != nil {
		return err
	}
	if m.SHA256, err = fileSum(name); err != nil {
		return s.explain("write a backup", err)
	}
	if err := pack(ctx, w, m, name); errors.Is(err, syscall.ENOSPC) {
		return &Error{Path: "backup", Kind: ErrFull, Err: err, Found: "no space left where the backup is written", Do: "It is not complete. Choose another place."}
	} else if err != nil {
		return s.explain("write a backup", err)
	}
	return nil
}

// copyInto writes all that is confirmed now to a file in a new folder, over a connection of its own, so that neither the writer nor a
// reader waits, and returns the folder. If this process is killed, the next Open sweeps it away when it lies beside the workshop file.
func (s *Store) copyInto(ctx context.Context, where string) (dir string, err error) {
	if dir, err = os.MkdirTemp(where, tempName(filepath.Base(s.path), "backup-*")); err != nil {
		return "", err
	}
	db, err := connect(s.path, writing)
	if err == nil {
		_, err = db.ExecContext(ctx, "VACUUM INTO ?", filepath.Join(dir, databaseName))
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		_ = os.RemoveAll(dir)
		return "", err
	}
	return dir, nil
}

// pack writes the archive.
func pack(ctx context.Context, w io.Writer, m manifest, database string) error {
	said, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	said = append(said, '\n')
	f, err := os.Open(database)
	if err != nil {
		return err
	}
	defer f.Close()
	archive := tar.NewWriter(w)
	header := tar.Header{Typeflag: tar.TypeReg, Mode: 0o600, ModTime: m.Made, Format: tar.FormatUSTAR}
	header.Name, header.Size = manifestName, int64(len(said))
	if err := archive.WriteHeader(&header); err != nil {
		return err
	}
	if _, err := archive.Write(said); err != nil {
		return err
	}
	header.Name, header.Size = databaseName, m.Size
	if err := archive.WriteHeader(&header); err != nil {
		return fmt.Errorf("the database does not fit into one backup: %w", err)
	}
	if _, err := io.Copy(archive, stopping{ctx, f}); err != nil {
		return err
	}
	return archive.Close()
}

// stopping is a reader that ends when nobody waits any more.
type stopping struct {
	ctx context.Context
	io.Reader
}

func (s stopping) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.Reader.Read(p)
}

// fileSum is the SHA-256 of a file in hex.
func fileSum(name string) (string, error) {
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return fmt.Sprintf("%x", h.Sum(nil)), nil
}
