package tolerance

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	yaml "github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"crimprule/vision/record"
)

// A tolerances file has a few kilobytes and few braces. The bounds keep the YAML parser, which recurses and whose
// time grows with the square of the nesting, away from what is no tolerances file.
const (
	maxBytes  = 64 << 10
	maxBraces = 1000
)

// Parse reads and checks a tolerances file; name is what its problems call it. A wrong file gives an *Error with all
// problems that could be told in one reading.
func Parse(name string, data []byte) (File, error) {
	if len(data) > maxBytes {
		return File{}, tooLarge(name, int64(len(data)))
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	text := strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(string(data))
	r := &reader{complaints: complaints{file: name, lines: strings.Split(text, "\n")}}
	body := r.body(text)
	if body == nil {
		return File{}, r.err()
	}
	file := r.file(body)
	if err := r.err(); err != nil {
		return File{}, err
	}
	return file, nil
}

func tooLarge(name string, size int64) error {
	return &Error{Problems: []Problem{{
		Place:   Place{File: name, Line: 1, Column: 1},
		Message: fmt.Sprintf("the file has %d bytes, more than the %d that a tolerances file may have", size, maxBytes),
		Hint:    "check that this is the tolerances file; 'crimprule tolerances example' prints one",
	}}}
}

// reader walks the tree of a YAML file and gathers what is wrong in it.
type reader struct{ complaints }

// at complains of what stands at a node.
func (r *reader) at(node ast.Node, message, hint string) {
	line, column := 1, 1
	if group, ok := node.(*ast.MappingNode); ok && !group.IsFlowStyle && len(group.Values) > 0 {
		node = group.Values[0].Key // the group's own token is its first colon
	}
	if node != nil {
		if token := node.GetToken(); token != nil && token.Position != nil {
			line, column = token.Position.Line, token.Position.Column
		}
	}
	r.add(line, column, message, hint)
}

// body returns the one document of the file, or nil after a complaint.
func (r *reader) body(text string) ast.Node {
	if !r.plainText(text) {
		return nil
	}
	tree, err := parseTree(text)
	if err != nil {
		r.syntax(err)
		return nil
	}
	docs := slices.DeleteFunc(tree.Docs, func(d *ast.DocumentNode) bool { return d.Body == nil })
	switch len(docs) {
	case 0:
		r.add(1, 1, "the file is empty", "'crimprule tolerances example' prints a file to start from")
		return nil
	case 1:
		return docs[0].Body
	}
	r.at(docs[1].Body, "a second document begins here", "one file holds one set of tolerances: move what follows '---' into a file of its own")
	return nil
}

// plainText refuses what no editor of text would save.
func (r *reader) plainText(text string) bool {
	for i, line := range r.lines {
		if !utf8.ValidString(line) || strings.ContainsRune(line, 0) {
			r.lines[i] = "" // not fit to be shown
			r.add(i+1, 1, "this line is not UTF-8 text", "save the file as UTF-8 in a text editor")
			return false
		}
	}
	if strings.Count(text, "[")+strings.Count(text, "{") > maxBraces {
		r.add(1, 1, "the file has too many braces for a tolerances file", "write each limit over several lines, indented, without braces")
		return false
	}
	return true
}

// parseTree calls the YAML parser. A panic in it is a file that cannot be read, and must not end a scan.
func parseTree(text string) (tree *ast.File, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = errors.New("the YAML in it is beyond understanding")
		}
	}()
	return parser.ParseBytes([]byte(text), 0, parser.AllowDuplicateMapKey())
}

func (r *reader) syntax(err error) {
	const hint = "look at this line and its neighbours: indentation (two spaces, no tabs), a colon with a space after it,\n" +
		"closed quotes and braces"
	line, column, message := 1, 1, err.Error()
	var told yaml.Error
	if errors.As(err, &told) {
		message = told.GetMessage()
		if token := told.GetToken(); token != nil && token.Position != nil {
			line, column = token.Position.Line, token.Position.Column
		}
	}
	message = strings.ReplaceAll(message, "\t", "tab")
	r.add(line, column, "this is not YAML: "+message, hint)
}

// field is a key that may stand in a mapping and what reads its value. The reader gets the key's node too, for
// complaints about the entry as a whole.
type field struct {
	name string
	read func(key, value ast.Node)
}

// fields reads a mapping: every key known, no key twice. It tells whether the node was a mapping at all.
func (r *reader) fields(node ast.Node, what string, known []field) bool {
	names := make([]string, len(known))
	for i, f := range known {
		names[i] = f.name
	}
	entries, ok := r.entries(node, what)
	for _, e := range entries {
		name := e.Key.GetToken().Value
		if i := slices.Index(names, name); i >= 0 {
			known[i].read(e.Key, e.Value)
			continue
		}
		r.at(e.Key, fmt.Sprintf("unknown key %q in %s", name, what), Allowed(name, names))
	}
	return ok
}

// entries lists the pairs of a mapping, less those whose key is there already or no plain word.
func (r *reader) entries(node ast.Node, what string) ([]*ast.MappingValueNode, bool) {
	var all []*ast.MappingValueNode
	switch n := node.(type) {
	case *ast.MappingNode:
		all = n.Values
	case *ast.MappingValueNode:
		all = []*ast.MappingValueNode{n}
	default:
		r.at(node, fmt.Sprintf("%s stands where the keys of %s should be", kindOf(node), what),
			"write keys with values there, one a line: 'key: value'")
		return nil, false
	}
	first := map[string]int{}
	return slices.DeleteFunc(slices.Clone(all), func(e *ast.MappingValueNode) bool {
		if _, ok := e.Key.(*ast.StringNode); !ok {
			r.at(e.Key, fmt.Sprintf("%q is no plain key", e.Key.GetToken().Value),
				"write keys as plain words: no numbers, no '?', '&', '*' or '<<'")
			return true
		}
		token := e.Key.GetToken()
		if line, twice := first[token.Value]; twice {
			r.at(e.Key, fmt.Sprintf("key %q stands twice in %s", token.Value, what),
				fmt.Sprintf("it was in line %d already: keep one of the two", line))
			return true
		}
		first[token.Value] = token.Position.Line
		return false
	}), true
}

// kindOf names what a node is, in words.
func kindOf(node ast.Node) string {
	switch node.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a group of keys"
	case *ast.SequenceNode:
		return "a list"
	case *ast.NullNode, nil:
		return "nothing"
	case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode, *ast.MergeKeyNode:
		return "a YAML anchor, alias or tag (write the value itself)"
	case *ast.LiteralNode:
		return "a block of text"
	}
	return "a single value"
}

// scalar returns the text of a single value as it was written, quotes taken off.
func (r *reader) scalar(node ast.Node, what string) (string, bool) {
	switch n := node.(type) {
	case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return n.GetToken().Value, true
	}
	r.at(node, fmt.Sprintf("%s stands where %s should be", kindOf(node), what), "write one value there, or take the key out")
	return "", false
}

// text reads free text: one line or a block.
func (r *reader) text(to *string) func(key, value ast.Node) {
	return func(_, value ast.Node) {
		if block, ok := value.(*ast.LiteralNode); ok && block.Value != nil {
			*to = strings.TrimSpace(block.Value.Value)
			return
		}
		if text, ok := r.scalar(value, "text"); ok {
			*to = strings.TrimSpace(text)
		}
	}
}

// quantity reads a value with its unit that must lie in a span.
func (r *reader) quantity(s span, to *float64) func(key, value ast.Node) {
	return func(_, value ast.Node) {
		text, ok := r.scalar(value, s.dim.name)
		if !ok {
			return
		}
		v, f := s.parse(text)
		if f != nil {
			r.at(value, f.message, f.hint)
			return
		}
		*to = v
	}
}

// view reads the name of a view that this version measures.
func (r *reader) view(to *record.View) func(key, value ast.Node) {
	return func(_, value ast.Node) {
		text, ok := r.scalar(value, "a view")
		if !ok {
			return
		}
		names := []string{}
		for _, v := range measuredViews() {
			names = append(names, string(v))
		}
		if !slices.Contains(names, text) {
			r.at(value, fmt.Sprintf("view %q is none that this version measures", text), Allowed(text, names))
			return
		}
		*to = record.View(text)
	}
}
