package store

// A process that is killed while it writes loses nothing that it has confirmed. This shows what the end of a process does, however sudden;
// it does not show what a power cut does, because the system still writes to the disk what the dead process gave it.

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"halfsplit/internal/app"
)

// child names, in the environment, the file that a copy of this test program is to write to instead of running tests.
const child = "HALFSPLIT_STORE_TEST_WRITES_TO"

func TestMain(m *testing.M) {
	if path := os.Getenv(child); path != "" {
		fmt.Fprintln(os.Stderr, writeUntilKilled(path, os.Getenv("HALFSPLIT_STORE_TEST_RESTORES")))
		os.Exit(3)
	}
	os.Exit(m.Run())
}

// writeUntilKilled writes as fast as it can, from several goroutines, and says on standard output, in one write per line, what was
// confirmed. With two backups (their name without its last letter, 0 or 1)
// it restores them in turn instead.
func writeUntilKilled(path, backup string) error {
	s, err := Open(bg, path)
	if err != nil {
		return err
	}
	fmt.Println("open")
	failed := make(chan error)
	if backup != "" {
		go func() {
			for n := 0; ; n++ {
				data, err := os.ReadFile(fmt.Sprint(backup, n%2))
				if err == nil {
					err = s.Restore(bg, strings.NewReader(string(data)))
				}
				if err != nil {
					failed <- err
					return
				}
				fmt.Println("restored")
			}
		}()
		return <-failed
	}
	for w := range 4 {
		go func() { failed <- writeJobs(s, fmt.Sprintf("%d-%d", os.Getpid(), w)) }()
	}
	return <-failed
}

// writeJobs opens jobs and writes twenty entries, a picture, a board and a setting into each.
func writeJobs(s *Store, who string) error {
	for n := 0; ; n++ {
		key := fmt.Sprintf("%s-%d", who, n)
		id, err := s.CreateJob(bg, event(key), app.JobSummary{Title: key})
		if err != nil {
			return err
		}
		fmt.Printf("event %d 1 %s\n", id, key)
		for seq := int64(2); seq <= 20; seq++ {
			e, _, err := s.Append(bg, id, seq, event(fmt.Sprint(key, ".", seq)), app.JobSummary{Title: key})
			if err != nil {
				return err
			}
			fmt.Printf("event %d %d %s\n", id, e.Seq, e.Key)
		}
		photo, err := s.SavePhoto(bg, id, slices.Concat(jpeg, []byte(key+strings.Repeat("x", 9000))), jpeg, 40, 30, noon)
		if err != nil {
			return err
		}
		fmt.Printf("photo %d 0 %s\n", photo, key)
		b, err := s.SaveBoard(bg, 0, app.BoardFiles{Title: key, Text: key}, noon)
		if err != nil {
			return err
		}
		fmt.Printf("board %d 0 %s\n", b.ID, key)
		if err := s.SetSetting(bg, key, key); err != nil {
			return err
		}
		fmt.Printf("setting 0 0 %s\n", key)
	}
}

// confirmed is one line of what the child said: "event", "photo", "board" or "setting", a number, the number of the entry, and its key.
type confirmed struct {
	what    string
	id, seq int64
	key     string
}

// runAndKill starts the child on a file, waits for so many lines from it, kills it so long after the last of them, and returns all that it
// has said and when, counted from the start. A line without its end was not said.
func runAndKill(path string, lines int, after time.Duration, more ...string) (said []string, when []time.Duration, err error) {
	exe, err := os.Executable()
	if err != nil {
		return nil, nil, err
	}
	c := exec.Command(exe)
	c.Env = append(append(os.Environ(), child+"="+path), more...)
	var trouble strings.Builder
	c.Stderr = &trouble
	out, err := c.StdoutPipe()
	if err != nil {
		return nil, nil, err
	}
	start := time.Now()
	if err := c.Start(); err != nil {
		return nil, nil, err
	}
	kill := time.AfterFunc(time.Minute, func() { _ = c.Process.Kill() }) // a child that is stuck
	defer kill.Stop()
	for r := bufio.NewReader(out); ; {
		if len(said) == lines {
			kill.Reset(after)
		}
		line, err := r.ReadString('\n')
		if err != nil {
			break
		}
		said, when = append(said, strings.TrimSpace(line)), append(when, time.Since(start))
	}
	_ = c.Wait()
	if trouble.Len() > 0 || c.ProcessState.Exited() && c.ProcessState.ExitCode() >= 0 || len(said) < lines {
		return nil, nil, fmt.Errorf("the child ended by itself or was stuck: %v, %d lines, %s", c.ProcessState, len(said), trouble.String())
	}
	return said, when, nil
}

const kills = 300

func TestKilledWhileWriting(t *testing.T) {
	const lanes, perFile = 3, 20 // that many at the same time; a new file after so many kills
	var mu sync.Mutex
	var survived, atWork, total int
	var all sync.WaitGroup
	for lane := range lanes {
		moments := rand.New(rand.NewPCG(26, uint64(lane)))
		all.Go(func() {
			opening := 20 * time.Millisecond // how long it takes this machine to start the child
			for k := 0; k < kills/lanes; k += perFile {
				path := filepath.Join(t.TempDir(), fmt.Sprintf("%d-%d.db", lane, k))
				var known []confirmed
				for n := range perFile {
					lines, after := 1+moments.IntN(60), time.Duration(moments.IntN(4000))*time.Microsecond
					if n%4 == 0 { // while the file is made, checked or mended
						lines, after = 0, time.Duration(moments.Int64N(int64(opening)))
					}
					said, when, err := runAndKill(path, lines, after)
					if err != nil {
						t.Error(err)
						return
					}
					if lines > 0 {
						opening = when[0]
					}
					before := len(known)
					for _, line := range said {
						var c confirmed
						if _, err := fmt.Sscan(line, &c.what, &c.id, &c.seq, &c.key); err == nil {
							known = append(known, c)
						} else if line != "open" {
							t.Errorf("%q", line)
						}
					}
					if err := allThere(path, known); err != nil {
						t.Errorf("lane %d, kill %d: %v", lane, k+n, err)
						return
					}
					mu.Lock()
					survived++
					total += len(known) - before
					if len(known) > before {
						atWork++
					}
					mu.Unlock()
				}
			}
		})
	}
	all.Wait()
	t.Logf("%d kills, %d of them after something was confirmed, %d confirmed in all", survived, atWork, total)
	if survived != kills || atWork < kills*2/3 || total < 20*kills {
		t.Errorf("%d kills survived, %d of a process at work, %d entries confirmed: too few to show anything", survived, atWork, total)
	}
}

// allThere opens the file, which checks its pages and foreign keys, and looks for everything that was confirmed.
func allThere(path string, known []confirmed) error {
	s, err := Open(bg, path)
	if err != nil {
		return err
	}
	defer s.Close()
	if err := counted(bg, s.read); err != nil {
		return err
	}
	there := map[confirmed]bool{}
	for what, query := range map[string]string{
		"event":   "SELECT job, seq, key, data = '{\"text\": \"' || key || '\"}' FROM event",
		"photo":   "SELECT photo.id, 0, title, jpeg = CAST(x'FFD8FF' || ' a picture' || title || replace(hex(zeroblob(4500)), '0', 'x') AS BLOB) FROM photo_data JOIN photo ON photo = photo.id JOIN job ON job = job.id WHERE small = 0",
		"board":   "SELECT id, 0, title, text = title FROM board_version",
		"setting": "SELECT 0, 0, name, value = name FROM setting",
	} {
		rows, err := s.read.Query(query)
		if err != nil {
			return err
		}
		for rows.Next() {
			c := confirmed{what: what}
			var right bool
			if err := rows.Scan(&c.id, &c.seq, &c.key, &right); err != nil {
				return err
			}
			if !right {
				return fmt.Errorf("%+v is not what was written", c)
			}
			there[c] = true
		}
		if err := rows.Err(); err != nil {
			return err
		}
	}
	for _, c := range known {
		if !there[c] {
			return fmt.Errorf("%+v was confirmed and is lost", c)
		}
	}
	return nil
}

// A process killed while it restores two backups in turn leaves all of one or all of the other.
func TestKilledWhileRestoring(t *testing.T) {
	const tries = 40
	path := workshop(t)
	s := reopen(t, path)
	states := []string{content(t, s)} // after so many restores, modulo 2 from the first on
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	backup := filepath.Join(t.TempDir(), "backup")
	for n := range 2 {
		source := fresh(t)
		fill(t, source, 10+10*n)
		if err := os.WriteFile(fmt.Sprint(backup, n), []byte(backedUp(t, source)), 0o600); err != nil {
			t.Fatal(err)
		}
		states = append(states, content(t, source))
	}
	after := func(restores int) string {
		if restores == 0 {
			return states[0]
		}
		return states[2-restores%2]
	}
	moments := rand.New(rand.NewPCG(27, 0))
	between, confirmed := 0, 0
	each := 20 * time.Millisecond // how long one restore takes this machine
	for k := range tries {
		file := filepath.Join(t.TempDir(), "workshop.db")
		if err := copyFile(path, file); err != nil {
			t.Fatal(err)
		}
		lines := 1 + moments.IntN(4)
		said, when, err := runAndKill(file, lines, time.Duration(moments.Int64N(int64(each)*3/2)), "HALFSPLIT_STORE_TEST_RESTORES="+backup)
		if err != nil {
			t.Fatal(err)
		}
		if lines > 1 {
			each = when[1] - when[0]
		}
		restores := strings.Count(strings.Join(said, " "), "restored")
		s := reopen(t, file)
		switch content(t, s) {
		case after(restores):
		case after(restores + 1): // done, but not yet said
			between++
		default:
			t.Fatalf("kill %d, after %d restores: neither what was there nor what was to come", k, restores)
		}
		confirmed += restores
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d kills, %d restores confirmed, %d done and not yet confirmed", tries, confirmed, between)
	if confirmed < tries {
		t.Errorf("only %d restores before %d kills: too few to show anything", confirmed, tries)
	}
}

// Two processes do not write to one file.
func TestInUseByAnotherProcess(t *testing.T) {
	s := fresh(t)
	ctx, cancel := context.WithTimeout(bg, 30*time.Second)
	defer cancel()
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.CommandContext(ctx, exe)
	c.Env = append(os.Environ(), child+"="+s.Path())
	said, err := c.CombinedOutput()
	if c.ProcessState.ExitCode() != 3 || !strings.Contains(string(said), fmt.Sprintf("(process %d on ", os.Getpid())) {
		t.Errorf("%v: %s", err, said)
	}
}
