package evidence

import (
	"cmp"
	"fmt"
	"html/template"
	"io"
	"strings"

	"crimprule/internal/wording"
)

// WriteFile writes a file into the evidence in dir as Write itself does, for functions that add files: name has slashes,
// a file that cannot be written whole is taken away again, and the error says what to do.
func WriteFile(dir, name string, write func(io.Writer) error) error {
	return folder(dir).file(name, func(w *output) error { return write(w) })
}

// Parts gives the pieces that all pages of the evidence share ("meta", "shapes", "badge", "facts") to pages that are added,
// with the functions that they call. The style sheet is assets/style.css.
func Parts() *template.Template {
	return template.Must(template.New("").Funcs(template.FuncMap{"clean": wording.Clean, "link": link}).ParseFS(templates, "templates/parts.html"))
}

// CrimpPage is the path of a crimp's page in the evidence.
func CrimpPage(number int) string { return fmt.Sprintf("crimps/%s", crimpFile(number)) }

// ByName orders names as all lists of the evidence do: "trainee 9" before "trainee 10", the empty name last.
func ByName(a, b string) int {
	if a == "" || b == "" {
		return len(b) - len(a)
	}
	return cmp.Or(wording.ByNumbers(a, b), strings.Compare(a, b))
}
