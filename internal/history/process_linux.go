package history

import (
	"bytes"
	"fmt"
	"os"
)

// procStat reads what Linux tells of a process (proc(5)): its state, and when it began in clock ticks since boot.
func procStat(pid int) (state, born string) {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return "", ""
	}
	// The second field is the name in parentheses, which may hold blanks and parentheses itself.
	fields := bytes.Fields(data[bytes.LastIndexByte(data, ')')+1:])
	if len(fields) < 20 {
		return "", ""
	}
	return string(fields[0]), string(fields[19])
}

// bornAt tells when a process began; with its number it names a process, since numbers come again.
func bornAt(pid int) string {
	_, born := procStat(pid)
	return born
}

// running tells whether a process is there; one that has ended, but was not yet waited for, is not.
func running(pid int, born string) bool {
	state, now := procStat(pid)
	return now != "" && now == born && state != "Z" && state != "X"
}
