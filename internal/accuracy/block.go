package accuracy

import (
	"fmt"
	"strings"
)

// Rewrite puts body between the lines <!-- NAME:begin --> and <!-- NAME:end --> of a document, in place of what stands there.
func Rewrite(document, name, body string) (string, error) {
	begin, end := "<!-- "+name+":begin -->\n", "<!-- "+name+":end -->"
	before, rest, found := strings.Cut(document, begin)
	_, after, ended := strings.Cut(rest, end)
	if !found || !ended || strings.Contains(after, begin) {
		return "", fmt.Errorf("the document has no block %q, or two: put the lines %q and %q where the tables belong", name, strings.TrimSpace(begin), end)
	}
	return before + begin + strings.TrimRight(body, "\n") + "\n" + end + after, nil
}
