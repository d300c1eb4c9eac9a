package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crimprule/internal/card"
	"crimprule/internal/terminal"
	"crimprule/internal/wording"
)

// cardOptions is the command line of `card`, as the user wrote it.
type cardOptions struct {
	out    string
	size   string
	ground string
	tags   []string
	file   string
}

func (o *cardOptions) addFlags(f *pflag.FlagSet) {
	f.StringVar(&o.out, "out", "", "write the cards to this `PDF`, one a page; an older PDF of that name is replaced")
	f.StringVar(&o.size, "size", "A6", "`SIZE` of a card: A6 or A5, laid across")
	f.StringVar(&o.ground, "ground", string(card.Grey), "what the part's window is filled with: `TONE` is grey, or white to leave it unprinted\n"+
		"(where a laser printer makes grey of dots that show, or for a matt mat of your own)")
	f.StringArrayVar(&o.tags, "tag", nil, "`TEXT` that names the part, printed as a QR code, which measure reads;\nrepeat it for more cards")
	f.StringVar(&o.file, "tags", "", "read the tags from this `FILE`, one a line and card")
	f.SortFlags = false
}

func newCardCommand(stdout io.Writer) *cobra.Command {
	var opts cardOptions
	cmd := &cobra.Command{
		Use:   "card",
		Short: "Make a card to print, on which a part is photographed",
		Long: `Make a card to print: a chessboard with squares of 5 mm, a window for the part that shows which way it
lies, two ruled lines to check the printer by, a white and a grey patch, lines for labels and, with
--tag, the part's tag as a QR code, which measure writes into the record.

Print it at 100 % ("actual size", never "fit to page"), check both ruled lines with a caliper, and lay
it flat. If a line is not as long as it says, the card says what to give instead of
--scale chessboard=5mm.

Exit status:
  0  written
  1  the PDF could not be written
  2  the call or its file of tags is wrong; nothing was written`,
		Example: `  crimprule card --out card.pdf
  crimprule card --size A5 --out card.pdf
  crimprule card --tag "canopy-north string-03 crimp-01" --out card.pdf
  crimprule card --tags crimps.txt --out cards.pdf`,
		Args: noArguments,
		RunE: func(*cobra.Command, []string) error { return runCard(opts, stdout) },
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

// runCard writes the cards. The error is a wrongCall before anything was written.
func runCard(opts cardOptions, stdout io.Writer) error {
	pages, err := readCards(opts)
	if err == nil {
		err = checkCardFile(opts.out)
	}
	if err != nil {
		return wrongCall{"crimprule card", err}
	}
	if err := writeAtomically(opts.out, func(w io.Writer) error { return card.WritePDF(w, pages) }); err != nil {
		return fmt.Errorf("--out %w; name a folder that can be written to", err)
	}
	board, rule := pages[0].Board, pages[0].RuleMM
	count := "1 card"
	if len(pages) > 1 {
		count = fmt.Sprintf("%d cards, one a page", len(pages))
	}
	return terminal.New(stdout, io.Discard).Say(fmt.Sprintf(`%s: %s of size %s, chessboard with squares of %d mm and %d x %d inner corners
Print at 100 %% ("actual size"), then check with a caliper that both ruled lines are %.1f mm long.
They are: measure with --scale chessboard=%dmm. They are not: the card says what to do.`,
		wording.Clean(opts.out), count, strings.ToUpper(opts.size), card.SquareMM, board.Cols-1, board.Rows-1, rule, card.SquareMM))
}

// mostCards keeps a wrong file, a whole log for instance, from becoming a day's printing.
const mostCards = 1000

// readCards lays out a card for each tag, or one without a tag.
func readCards(opts cardOptions) ([]card.Page, error) {
	tags, err := readTags(opts)
	if err != nil {
		return nil, err
	}
	if len(tags) == 0 {
		tags = []string{""}
	}
	pages := make([]card.Page, len(tags))
	for i, tag := range tags {
		if pages[i], err = card.New(card.Options{Size: opts.size, Ground: card.Ground(opts.ground), Tag: tag}); err != nil {
			return nil, fmt.Errorf("--%w", err)
		}
	}
	return pages, nil
}

// readTags gathers and checks the tags of the call and of its file.
func readTags(opts cardOptions) ([]string, error) {
	where := map[string]string{}
	var tags []string
	add := func(tag, at string) error {
		if err := card.CheckTag(tag); err != nil {
			return fmt.Errorf("%s %w", at, err)
		}
		if first, ok := where[tag]; ok {
			return fmt.Errorf("%s %q was given already (%s): each card needs a tag of its own; take one away", at, tag, first)
		}
		where[tag] = at
		tags = append(tags, tag)
		return nil
	}
	for _, tag := range opts.tags {
		if err := add(tag, "--tag"); err != nil {
			return nil, err
		}
	}
	if opts.file != "" {
		if err := tagsOfFile(opts.file, add); err != nil {
			return nil, err
		}
	}
	if len(tags) > mostCards {
		return nil, fmt.Errorf("%d tags are more than the %d cards that one call makes: split them over several files", len(tags), mostCards)
	}
	return tags, nil
}

// tagsOfFile hands over each line that is not blank, with its place.
func tagsOfFile(path string, add func(tag, at string) error) error {
	data, err := os.ReadFile(path) //nolint:gosec // reading the file that the user names is what this is for
	if err != nil {
		var fault *os.PathError
		if errors.As(err, &fault) {
			err = fault.Err
		}
		return fmt.Errorf("--tags %q cannot be read (%w): name a text file with one tag a line", path, err)
	}
	lines := bufio.NewScanner(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
	n, found := 0, false
	for lines.Scan() {
		n++
		line := strings.TrimSpace(lines.Text())
		if line == "" {
			continue
		}
		found = true
		if err := add(line, fmt.Sprintf("--tags %q, line %d:", path, n)); err != nil {
			return err
		}
	}
	switch {
	case lines.Err() != nil:
		return fmt.Errorf("--tags %q, line %d: this is no text with one tag a line (%w): name another file", path, n+1, lines.Err())
	case !found:
		return fmt.Errorf("--tags %q holds no tag: write one a line, or leave the option out for a card without a tag", path)
	}
	return nil
}

// checkCardFile refuses what must not be written to: an older PDF may be replaced, any other file may not, least of all
// a picture.
func checkCardFile(path string) error {
	if path == "" {
		return errors.New("no --out given: name the PDF to write, as --out card.pdf")
	}
	if !strings.EqualFold(filepath.Ext(path), ".pdf") {
		return fmt.Errorf("--out %q: a card is written as PDF; give it a name that ends in .pdf", path)
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil // whatever is wrong with the folder shows when it is written
	}
	if !info.Mode().IsRegular() {
		return fmt.Errorf("--out %q is there already and is no file: give another name", path)
	}
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("--out %q is there already and cannot be read, so it is not replaced: give another name", path)
	}
	defer func() { _ = file.Close() }()
	head := make([]byte, 5)
	if n, _ := io.ReadFull(file, head); n > 0 && string(head[:n]) != "%PDF-" {
		return fmt.Errorf("--out %q is there already and is no PDF, so it is not replaced: give another name", path)
	}
	return nil
}
