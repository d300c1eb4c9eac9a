package history

import (
	"fmt"
	"strconv"
	"strings"
)

// quoteList writes a list of texts as one, each quoted as in Go, so that texts of any bytes come back as they were (JSON
// would replace what is no UTF-8).
func quoteList(texts []string) string {
	quoted := make([]string, len(texts))
	for i, t := range texts {
		quoted[i] = strconv.Quote(t)
	}
	return strings.Join(quoted, " ")
}

// unquoteList is the other way.
func unquoteList(s string) ([]string, error) {
	var texts []string
	for s != "" {
		quoted, err := strconv.QuotedPrefix(s)
		if err != nil {
			return nil, fmt.Errorf("list %q: %w", s, err)
		}
		text, err := strconv.Unquote(quoted)
		if err != nil {
			return nil, fmt.Errorf("list %q: %w", s, err)
		}
		texts = append(texts, text)
		s = strings.TrimPrefix(s[len(quoted):], " ")
	}
	return texts, nil
}
