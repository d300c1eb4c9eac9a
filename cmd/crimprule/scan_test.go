package main

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// program is a call of the true program: the test binary plays it. Time stands still for it, so that two scans of the same
// pictures must give the same bytes.
func program(dir string, args ...string) *exec.Cmd {
	path, err := os.Executable()
	if err != nil {
		panic(err)
	}
	cmd := exec.Command(path, args...)
	cmd.Args[0] = "crimprule"
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "SOURCE_DATE_EPOCH=1764000000", "NO_COLOR=1")
	return cmd
}

// called is how a call ended.
type called struct {
	status         int
	stdout, stderr string
}

func call(t *testing.T, cmd *exec.Cmd) called {
	t.Helper()
	var out, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaints
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		require.NoError(t, err)
	}
	return called{cmd.ProcessState.ExitCode(), out.String(), complaints.String()}
}

// grey gives small pictures of equal looks and different bytes: what follows a JPEG's end is left alone.
func grey(t *testing.T) func(i int) []byte {
	whole := smallJPEG(t)
	return func(i int) []byte { return append(slices.Clone(whole), fmt.Sprintf("picture %d", i)...) }
}

func put(t *testing.T, path string, data []byte) {
	t.Helper()
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, data, 0o644))
}

// checksums is the manifest of an evidence pack.
func checksums(t *testing.T, dir string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, "manifest.sha256"))
	require.NoError(t, err)
	return string(data)
}

// broken are the ways in which a file is no picture, and words of the reason that must be told for it.
func broken(t *testing.T, dir string) (kinds []func(name string), reasons []string) {
	add := func(reason string, make func(path string)) {
		kinds = append(kinds, func(name string) { make(filepath.Join(dir, name)) })
		reasons = append(reasons, reason)
	}
	whole := smallJPEG(t)
	add("is empty", func(p string) { put(t, p, nil) })
	add("cut", func(p string) { put(t, p, whole[:len(whole)/2]) })
	add("not a picture", func(p string) { put(t, p, []byte(strings.Repeat("no picture at all\n", 40))) })
	add("pixels", func(p string) {
		huge := slices.Clone(whole)
		at := bytes.Index(huge, []byte{0xff, 0xc0}) // the frame header: height and width follow its length and depth
		copy(huge[at+5:], []byte{0xff, 0xf0, 0xff, 0xf0})
		put(t, p, huge)
	})
	add("folder", func(p string) { require.NoError(t, os.Mkdir(p, 0o755)) })
	add("not exist", func(p string) { require.NoError(t, os.Symlink(filepath.Join(dir, "nowhere"), p)) })
	add("pipe", func(p string) { require.NoError(t, syscall.Mkfifo(p, 0o644)) })
	if os.Getuid() != 0 { // nothing is forbidden to root
		add("permission", func(p string) { put(t, p, whole); require.NoError(t, os.Chmod(p, 0)) })
	}
	return kinds, reasons
}

func TestEveryOneOfTwoThousandPicturesIsAccountedFor(t *testing.T) {
	if testing.Short() {
		t.Skip("2000 pictures take half a minute")
	}
	dir := t.TempDir()
	photos := filepath.Join(dir, "photos")
	require.NoError(t, os.Mkdir(photos, 0o755))
	picture := grey(t)
	kinds, reasons := broken(t, photos)
	const pictures = 2000
	spoiled := map[string]string{} // by name: the reason
	for i := range pictures {
		name := fmt.Sprintf("crimp-%04d.jpg", i)
		if i%20 == 7 {
			kind := i / 20 % len(kinds)
			kinds[kind](name)
			spoiled[name] = reasons[kind]
			continue
		}
		put(t, filepath.Join(photos, name), picture(i))
	}
	got := call(t, program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--json", "--out", "evidence", "--history", "history.db"))
	assert.Equal(t, exitFailed, got.status)

	told := map[string]string{}
	for line := range strings.Lines(got.stderr) {
		if name, reason, found := strings.Cut(strings.TrimPrefix(line, `crimprule: "`), ".jpg"); found {
			assert.NotContains(t, told, name+".jpg", "told once")
			told[name+".jpg"] = reason
		}
	}
	for name, reason := range spoiled {
		assert.Contains(t, told[name], reason, name)
	}
	assert.Len(t, told, len(spoiled), "and no other one")
	assertInOrder(t, got.stdout, pictures-len(spoiled))

	rows := csvOf(t, filepath.Join(dir, "evidence", "crimps.csv"))
	seen := map[string]bool{}
	for _, row := range rows {
		seen[row["file"]] = true
	}
	assert.Len(t, seen, pictures, "every picture stands in the table")
	verified := call(t, program(dir, "evidence", "verify", "evidence"))
	assert.Zero(t, verified.status, verified.stderr)
}

// assertInOrder demands so many records, in the order of the pictures' names.
func assertInOrder(t *testing.T, lines string, n int) {
	t.Helper()
	last, count := "", 0
	scanner := bufio.NewScanner(strings.NewReader(lines))
	scanner.Buffer(nil, 1<<20)
	for scanner.Scan() {
		_, rest, _ := strings.Cut(scanner.Text(), `"image":"`)
		name, _, _ := strings.Cut(rest, `"`)
		assert.Less(t, last, name)
		last = name
		count++
	}
	assert.Equal(t, n, count)
}

func csvOf(t *testing.T, path string) []map[string]string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	all, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")))).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, cell := range cells {
			row[all[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}

// A scan that is killed at any moment goes on where it was, measures nothing twice, and ends in the same evidence as one
// that was left alone.
func TestAKilledScanGoesOnWhereItWas(t *testing.T) {
	dir := t.TempDir()
	picture := grey(t)
	const pictures = 300
	for i := range pictures {
		put(t, filepath.Join(dir, "photos", fmt.Sprintf("crimp-%04d.jpg", i)), picture(i))
	}
	sample, err := os.ReadFile("../../samples/canopy-north-string-03-crimp-01.jpg")
	require.NoError(t, err)
	put(t, filepath.Join(dir, "photos", "crimp-0150-whole.jpg"), sample)
	scan := func(out, history string) *exec.Cmd {
		return program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--out", out, "--history", history)
	}
	whole := call(t, scan("evidence", "whole.db"))
	require.Zero(t, whole.status, whole.stderr)
	undisturbed := checksums(t, filepath.Join(dir, "evidence"))
	require.NoError(t, os.RemoveAll(filepath.Join(dir, "evidence")))

	for kills := range 4 {
		cmd := scan("evidence", "killed.db")
		var complaints bytes.Buffer
		cmd.Stderr = &complaints
		require.NoError(t, cmd.Start())
		require.Eventually(t, func() bool {
			done, _ := filepath.Glob(filepath.Join(dir, "evidence.part", "thumbs", "*.jpg"))
			return len(done) > 50*kills+10
		}, time.Minute, time.Millisecond)
		require.NoError(t, cmd.Process.Kill())
		_ = cmd.Wait()
		require.NoFileExists(t, filepath.Join(dir, "evidence", "manifest.sha256"), "no evidence before all is measured")
	}
	got := call(t, scan("evidence", "killed.db"))
	require.Zero(t, got.status, got.stderr)
	assert.Contains(t, got.stderr, "known from a call that was interrupted")
	assert.Equal(t, undisturbed, checksums(t, filepath.Join(dir, "evidence")))
	left, err := filepath.Glob(filepath.Join(dir, "evidence*"))
	require.NoError(t, err)
	assert.Len(t, left, 1)

	again := call(t, scan("evidence", "killed.db"))
	require.Zero(t, again.status, again.stderr)
	assert.Equal(t, undisturbed, checksums(t, filepath.Join(dir, "evidence")), "a scan of known pictures gives the same evidence")
}

// children gives the worker processes of a scan, as Linux tells them.
func children(parent int) []int {
	var pids []int
	files, _ := filepath.Glob("/proc/[0-9]*/stat")
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			continue
		}
		fields := strings.Fields(string(data[bytes.LastIndexByte(data, ')')+1:]))
		if pid, err := strconv.Atoi(filepath.Base(filepath.Dir(file))); err == nil && fields[1] == strconv.Itoa(parent) {
			pids = append(pids, pid)
		}
	}
	return pids
}

// The file of the program is taken away, as by an update: workers are still the same program.
func TestAKilledWorkerIsReplaced(t *testing.T) {
	if _, err := os.Stat("/proc/self/stat"); err != nil {
		t.Skip("this system does not tell of processes in /proc")
	}
	dir := t.TempDir()
	picture := grey(t)
	const pictures = 200
	for i := range pictures {
		put(t, filepath.Join(dir, "photos", fmt.Sprintf("crimp-%04d.jpg", i)), picture(i))
	}
	cmd := program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--json", "--out", "evidence", "--history", "history.db", "--workers", "2")
	if gone := filepath.Join(dir, "crimprule"); os.Link(cmd.Path, gone) == nil { // else it is on another disk
		cmd.Path = gone
	}
	var out, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaints
	require.NoError(t, cmd.Start())
	killed := 0
	for deadline := time.Now().Add(20 * time.Second); killed < 3 && time.Now().Before(deadline); time.Sleep(150 * time.Millisecond) {
		for _, pid := range children(cmd.Process.Pid) {
			_ = os.Remove(filepath.Join(dir, "crimprule"))
			if syscall.Kill(pid, syscall.SIGKILL) == nil {
				killed++
				break
			}
		}
	}
	err := cmd.Wait()
	require.NoError(t, err, complaints.String())
	require.Positive(t, killed)
	assertInOrder(t, out.String(), pictures)
}

func TestTwoScansOnOneHistory(t *testing.T) {
	dir := t.TempDir()
	picture := grey(t)
	const pictures = 60
	for i := range pictures {
		put(t, filepath.Join(dir, "north", fmt.Sprintf("crimp-%04d.jpg", i)), picture(i))
		put(t, filepath.Join(dir, "south", fmt.Sprintf("crimp-%04d.jpg", i)), picture(i+30)) // half of them are the same
	}
	results := make(chan called, 2)
	for _, side := range []string{"north", "south"} {
		go func() {
			results <- call(t, program(dir, "scan", side, "--scale", "chessboard=5mm", "--json", "--history", "history.db", "--workers", "2"))
		}()
	}
	for range 2 {
		got := <-results
		assert.Zero(t, got.status, got.stderr)
		assertInOrder(t, got.stdout, pictures)
	}
}

// Ctrl-C reaches every process of the terminal's group: no picture may be called bad for it.
func TestAnInterruptedScanGoesOnWhereItWas(t *testing.T) {
	dir := t.TempDir()
	picture := grey(t)
	const pictures = 150
	for i := range pictures {
		put(t, filepath.Join(dir, "photos", fmt.Sprintf("crimp-%04d.jpg", i)), picture(i))
	}
	cmd := program(dir, "scan", "photos", "--scale", "chessboard=5mm")
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	require.NoError(t, cmd.Start())
	require.Eventually(t, func() bool {
		done, _ := filepath.Glob(filepath.Join(dir, "photos-evidence.part", "thumbs", "*.jpg"))
		return len(done) > 20
	}, time.Minute, time.Millisecond)
	require.NoError(t, syscall.Kill(-cmd.Process.Pid, syscall.SIGINT))
	_ = cmd.Wait()
	assert.Equal(t, exitInterrupted, cmd.ProcessState.ExitCode())
	assert.Contains(t, complaints.String(), "call again to go on")
	assert.NoDirExists(t, filepath.Join(dir, "photos-evidence"))

	// Meanwhile another picture takes the place of one that was measured: same name, size and time.
	replaced := filepath.Join(dir, "photos", "crimp-0001.jpg")
	before, err := os.Stat(replaced)
	require.NoError(t, err)
	other := append(smallJPEG(t), "picture x"...)
	put(t, replaced, other)
	require.NoError(t, os.Chtimes(replaced, before.ModTime(), before.ModTime()))
	// And the power fails: some of what was written is empty.
	for _, folder := range []string{"originals", "thumbs"} {
		files, err := filepath.Glob(filepath.Join(dir, "photos-evidence.part", folder, "*.jpg"))
		require.NoError(t, err)
		require.NoError(t, os.Truncate(files[5], 0))
	}
	got := call(t, program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--json"))
	assert.Zero(t, got.status, got.stderr)
	assert.Contains(t, got.stderr, "known from a call that was interrupted")
	assertInOrder(t, got.stdout, pictures)
	for _, folder := range []string{"originals", "thumbs"} {
		files, err := filepath.Glob(filepath.Join(dir, "photos-evidence", folder, "*.jpg"))
		require.NoError(t, err)
		for _, file := range files {
			info, err := os.Stat(file)
			require.NoError(t, err)
			assert.NotZero(t, info.Size(), file)
		}
	}
	assert.Contains(t, got.stdout, fmt.Sprintf("%x", sha256.Sum256(other)))
}

// Nobody gets a clean page by leaving a photo out, copying a good one, or measuring a view that nothing judges.
func TestABadCrimpCannotBeHidden(t *testing.T) {
	dir := t.TempDir()
	sample := func(name string) []byte {
		data, err := os.ReadFile("../../samples/" + name)
		require.NoError(t, err)
		return data
	}
	good, bad := sample("canopy-north-string-03-crimp-01.jpg"), sample("canopy-north-string-03-crimp-02.jpg")
	scan := func() called {
		return call(t, program(dir, "scan", "photos", "--scale", "chessboard=5mm", "--scale", "rule=1mm", "--pattern", "{crimp}_{view}", "--tolerances", "limits.yaml"))
	}
	put(t, filepath.Join(dir, "limits.yaml"), sample("canopy-4mm2.yaml"))
	put(t, filepath.Join(dir, "photos", "1_seam.jpg"), good)
	put(t, filepath.Join(dir, "photos", "2_seam.jpg"), bad)
	first := scan()
	require.Equal(t, exitNotConforming, first.status, first.stderr)
	assert.Contains(t, first.stdout, "2  2: gap between insulation and sleeve (largest)")

	require.NoError(t, os.Remove(filepath.Join(dir, "photos", "2_seam.jpg")))
	got := scan()
	assert.Equal(t, exitNotConforming, got.status)
	assert.Contains(t, got.stdout, "NOT AMONG THESE PICTURES")
	assert.NotContains(t, got.stdout, "speaks against")

	put(t, filepath.Join(dir, "photos", "2_seam.jpg"), good)
	got = scan()
	assert.Equal(t, exitNotConforming, got.status)
	assert.Contains(t, got.stdout, "a copy proves one crimp only")
	assert.NotContains(t, got.stdout, "conform: ")

	require.NoError(t, os.Remove(filepath.Join(dir, "photos", "2_seam.jpg")))
	put(t, filepath.Join(dir, "photos", "1_side.jpg"), sample("canopy-north-string-03-crimp-01-side.jpg"))
	got = scan()
	assert.Contains(t, got.stdout, "not judged: there were no limits for them: 1 crimp")
	put(t, filepath.Join(dir, "photos", "1_side.jpg"), good[:len(good)/2])
	got = scan()
	assert.Equal(t, exitFailed, got.status)
	assert.Contains(t, got.stdout, "PUT RIGHT HERE, without a new photo: not measured: 1 crimp")
}

// What was changed in a pack is not taken over by the next one: it is made anew, also while a folder is watched.
func TestChangedEvidenceIsMadeAnew(t *testing.T) {
	dir := t.TempDir()
	sample, err := os.ReadFile("../../samples/canopy-north-string-03-crimp-01.jpg")
	require.NoError(t, err)
	put(t, filepath.Join(dir, "in", "sample.jpg"), sample)
	put(t, filepath.Join(dir, "in", "grey.jpg"), smallJPEG(t))
	args := []string{"scan", "in", "--scale", "chessboard=5mm"}
	first := call(t, program(dir, args...))
	require.Zero(t, first.status, first.stderr)
	undisturbed := checksums(t, filepath.Join(dir, "in-evidence"))
	forge := func() {
		files, err := filepath.Glob(filepath.Join(dir, "in-evidence", "[ot][rvh]*s", "*"))
		require.NoError(t, err)
		require.Len(t, files, 5, "two originals, two thumbnails, a drawing")
		for _, file := range files {
			require.NoError(t, os.WriteFile(file, []byte("forged"), 0o600))
		}
		require.NotZero(t, call(t, program(dir, "evidence", "verify", "in-evidence")).status)
	}
	forge()
	again := call(t, program(dir, args...))
	require.Zero(t, again.status, again.stderr)
	assert.Equal(t, undisturbed, checksums(t, filepath.Join(dir, "in-evidence")))
	verified := call(t, program(dir, "evidence", "verify", "in-evidence"))
	assert.Zero(t, verified.status, verified.stderr)

	before, err := os.Stat(filepath.Join(dir, "in-evidence", "manifest.sha256"))
	require.NoError(t, err)
	cmd := program(dir, append(args, "--watch")...)
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	require.NoError(t, cmd.Start())
	defer func() { _ = cmd.Process.Kill() }()
	records := func() int {
		data, _ := os.ReadFile(filepath.Join(dir, "in-evidence", "records.jsonl"))
		return bytes.Count(data, []byte("\n"))
	}
	require.Eventually(t, func() bool {
		now, err := os.Stat(filepath.Join(dir, "in-evidence", "manifest.sha256"))
		return err == nil && !os.SameFile(before, now)
	}, 30*time.Second, 50*time.Millisecond)
	forge()
	put(t, filepath.Join(dir, "in", "third.jpg"), grey(t)(3))
	require.Eventually(t, func() bool { return records() == 3 }, 30*time.Second, 50*time.Millisecond)
	require.NoError(t, cmd.Process.Signal(syscall.SIGINT))
	require.NoError(t, cmd.Wait(), complaints.String())
	verified = call(t, program(dir, "evidence", "verify", "in-evidence"))
	assert.Zero(t, verified.status, verified.stderr)
	for line := range strings.Lines(undisturbed) {
		if strings.Contains(line, "  originals/") || strings.Contains(line, "  overlays/") || strings.Contains(line, "  thumbs/") {
			assert.Contains(t, checksums(t, filepath.Join(dir, "in-evidence")), line)
		}
	}
}

// A watched folder cannot be where its own evidence goes.
func TestPicturesAreNotWrittenOver(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "in"), 0o755))
	require.NoError(t, os.Symlink("in", filepath.Join(dir, "link")))
	for _, out := range []string{"in", "link", "in/../in/"} {
		cmd := program(dir, "scan", "in", "--scale", "chessboard=5mm", "--watch", "--out", out)
		tooLong := time.AfterFunc(30*time.Second, func() { _ = cmd.Process.Kill() })
		got := call(t, cmd)
		tooLong.Stop()
		assert.Equal(t, exitWrongCall, got.status, got.stderr)
		assert.Contains(t, got.stderr, "name another folder with --out")
	}
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, left, 2)
}
