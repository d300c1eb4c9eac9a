package scan

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/unicode"
	"pgregory.net/rapid"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// withManifest is a folder with pictures and a manifest.
func withManifest(t testing.TB, manifest string, pictures ...string) string {
	dir := t.TempDir()
	put(t, dir, pictures...)
	require.NoError(t, os.WriteFile(filepath.Join(dir, manifestName), []byte(manifest), 0o644))
	return dir
}

func TestManifest(t *testing.T) {
	for name, manifest := range map[string]string{
		"commas": "file,crimp,view,scale,declare,tolerances,string,crew,tool,trainee,date,own_verdict,note\n" +
			"a.jpg,7,side,chessboard=5mm rule=1 mm,strand_count=56;strand_diameter = 0.3 mm,\"seam.yaml; side.yaml\",north-03,A,T1,trainee 3,2026-05-04,good,\"says \"\"so\"\"\nin two lines\"\n",
		"semicolons, BOM, CRLF, other order": "\xef\xbb\xbfcrimp; File;view;scale;declare;tolerances;string;crew;tool;trainee;date;own_verdict;note;\r\n" +
			";;;;;;;;;;;;;\r\n7;a.jpg;side;chessboard=5mm rule=1 mm;strand_count=56 strand_diameter=0.3 mm;\"seam.yaml;side.yaml\";north-03;A;T1;trainee 3;2026-05-04;conforms;\"says \"\"so\"\"\nin two lines\"\r\n",
		"tabs": "file\tcrimp\tview\tscale\tdeclare\ttolerances\tstring\tcrew\ttool\ttrainee\tdate\town_verdict\tnote\n" +
			"a.jpg\t7\tside\tchessboard=5mm rule=1 mm\tstrand_count=56 strand_diameter=0.3 mm\tseam.yaml;side.yaml\tnorth-03\tA\tT1\ttrainee 3\t2026-05-04\tgood\t\"says \"\"so\"\"\nin two lines\"\n",
	} {
		dir := withManifest(t, manifest, "a.jpg", "b.jpg", "seam.yaml", "side.yaml")
		l := find(t, FindOptions{}, dir)
		require.Len(t, l.Files, 2, name)
		a := l.Files[0]
		assert.Equal(t, site.Label{String: "north-03", Crimp: "7", Crew: "A", Tool: "T1", Trainee: "trainee 3", Date: "2026-05-04", Own: record.Conforms,
			Note: "says \"so\" in two lines"}, a.Label, name)
		assert.Equal(t, site.FromManifest, a.Origin)
		assert.Equal(t, record.Side, a.View)
		assert.Equal(t, []string{"chessboard=5mm", "rule=1 mm"}, a.Scales)
		assert.Equal(t, []string{"strand_count=56", "strand_diameter=0.3 mm"}, a.Declare)
		assert.Equal(t, []string{filepath.Join(dir, "seam.yaml"), filepath.Join(dir, "side.yaml")}, a.Tolerances)
		assert.Equal(t, Found{File: "b.jpg", Path: filepath.Join(dir, "b.jpg"), Size: 5, Origin: site.Alone}, bare(l.Files[1]), "not named: measured too")
		assert.Equal(t, []string{filepath.Join(dir, manifestName)}, l.Manifests)
	}
}

// TestLinesOfTheManifest: pictures are listed by their names, and who asks for the manifest's order gets that too.
func TestLinesOfTheManifest(t *testing.T) {
	l := find(t, FindOptions{}, withManifest(t, "file,crimp\nc.jpg,1\na.jpg,2\n", "a.jpg", "b.jpg", "c.jpg"))
	assert.Equal(t, []string{"a.jpg", "b.jpg", "c.jpg"}, []string{l.Files[0].File, l.Files[1].File, l.Files[2].File})
	assert.Equal(t, map[string]int{"c.jpg": 1, "a.jpg": 2}, l.Lines)
}

func bare(f Found) Found { f.open, f.changed = nil, time.Time{}; return f }

func TestManifestTellsAllThatIsWrong(t *testing.T) {
	dir := withManifest(t, "file,crimp,view,date,own_verdict,scale,tolerances,declare,tool\n"+
		"ä.jpg,1,seem,4.5.2026,god,chesboard=5mm,none.yaml,strand_count=many,T1\n"+
		",2,,,,,,,T1\n"+
		"b.jpg,3,,2026-13-01,,rule=1mm rule=2mm,,,T1,more\n"+
		"./b.jpg,4,,,,,,,"+strings.Repeat("T", 201)+"\n", "ä.jpg", "b.jpg")
	_, err := Find([]string{dir}, FindOptions{})
	name := filepath.Join(dir, manifestName)
	for _, want := range []string{
		name + `:2:9: there is no view "seem"`, "\n  did you mean seam?\n",
		name + `:2:14: "4.5.2026" is no date that can be read`, "\n  write it as 2026-05-04\n",
		name + `:2:23: there is no own_verdict "god"`, "\n  did you mean good?\n",
		name + `:2:27: "chesboard=5mm": unknown name "chesboard"`, "\n  did you mean chessboard?",
		name + `:2:41: tolerances file "none.yaml" does not exist`,
		name + `:2:51: "strand_count=many": "many" is no number`,
		name + ":3:1: this line names no file\n    ,2,,,,,,,T1\n    ^\n  write the picture's file",
		name + `:4:10: "2026-13-01" is no date that can be read`, "YYYY-MM-DD",
		name + `:4:22: "rule" is given twice`,
		name + `:4:45: "more" stands beyond the last column`,
		"... and 2 more: put these right first",
	} {
		assert.ErrorContains(t, err, want)
	}
}

func TestManifestsThatCannotBeReadAtAll(t *testing.T) {
	for manifest, want := range map[string]string{
		"":                                 "manifest.csv:1:1: the manifest is empty",
		" \n\n":                            "manifest.csv:1:1: the manifest is empty",
		"a.jpg,1\n":                        `manifest.csv:1:1: unknown column "a.jpg"`,
		"crimp,string\n1,2\n":              `manifest.csv:1:1: there is no column "file"`,
		"file,crimp,crmp\n":                "manifest.csv:1:12: unknown column \"crmp\"\n    file,crimp,crmp\n               ^\n  did you mean crimp?\n  allowed here: file, crimp, view, scale,",
		"file,crimp,File\n":                `manifest.csv:1:12: column "file" is there twice`,
		"file,,crimp\na.jpg,x,1\n":         `manifest.csv:2:7: "x" stands in a column without a name`,
		"file,note\na.jpg,the \"old\" die": `manifest.csv:2:11: a quote stands inside a cell that does not begin with one`,
		"file,note\na.jpg,\"no end\nb,":    `manifest.csv:2:1: a quote that opens in this line is not closed`,
		"file,note\na.jpg,gr\xfcn\n":       "manifest.csv:2:1: this line is not UTF-8 text\n  save it as 'CSV UTF-8'",
		"file,crimp\na.jpg,1\na.jpg,2\n":   "manifest.csv:3:1: the picture \"a.jpg\" is named twice\n    a.jpg,2\n    ^\n  line 2 names it already: keep one of the two",
	} {
		_, err := Find([]string{withManifest(t, manifest, "a.jpg")}, FindOptions{})
		assert.ErrorContains(t, err, want)
	}
	dir := withManifest(t, "", "a.jpg")
	require.NoError(t, os.Truncate(filepath.Join(dir, manifestName), maxManifest+1))
	_, err := Find([]string{dir}, FindOptions{})
	assert.ErrorContains(t, err, "has 16777217 bytes, more than the 16777216 that are read of such a file: check that it is the right one")
	_, err = Find([]string{dir}, FindOptions{Manifest: filepath.Join(dir, "list.csv")})
	assert.ErrorContains(t, err, fmt.Sprintf("manifest %q does not exist: check the path", filepath.Join(dir, "list.csv")))
}

func TestManifestLinesWithoutAPicture(t *testing.T) {
	dir := withManifest(t, "file,crimp\nIMG_1.jpg,1\nnorth/2.jpg,2\nnotes.txt,3\n../4.jpg,4\n5.heic,5\n", "img_1.JPG", "south/2.jpg", "notes.txt", "5.heic", "5.jpg")
	l := find(t, FindOptions{}, dir)
	line := func(name string, n int, next string) string {
		return fmt.Sprintf("%q is named in line %d of the manifest %q but is no picture that was found: %s", name, n, filepath.Join(dir, manifestName), next)
	}
	assert.Equal(t, map[string]string{
		"IMG_1.jpg":   line("IMG_1.jpg", 2, `did you mean "img_1.JPG"? Write its name as the folder has it, or take the line out`),
		"north/2.jpg": line("north/2.jpg", 3, `did you mean "south/2.jpg"? Write its name as the folder has it, or take the line out`),
		"notes.txt":   line("notes.txt", 4, "put the picture there or take the line out"),
		"../4.jpg":    line("../4.jpg", 5, "put the picture there or take the line out"),
		"5.heic":      `"5.heic" is a HEIC picture, which is not read: export it as JPEG, or set the phone's camera to take JPEG, and scan again`,
	}, l.problems())
	assert.Equal(t, []string{"5.heic", "5.jpg", "img_1.JPG", "south/2.jpg", "IMG_1.jpg", "north/2.jpg", "notes.txt", "../4.jpg"}, l.names())
	assert.Equal(t, site.Label{Crimp: "5"}, l.Files[0].Label)
	assert.Equal(t, site.Label{Crimp: "1"}, l.Files[4].Label)
}

func TestManifestsWriteNamesInOtherWays(t *testing.T) {
	dir := withManifest(t, "file,crimp\n./north//1.jpg,1\nnorth\\2.jpg,2\n gr\u00fcn.jpg ,3\nlink.jpg,4\n", "north/1.jpg", "north/2.jpg", "gru\u0308n.jpg", "4.jpg")
	require.NoError(t, os.Symlink("4.jpg", filepath.Join(dir, "link.jpg")))
	put(t, dir, "5.jpg")
	list := filepath.Join(t.TempDir(), "list.csv")
	require.NoError(t, os.WriteFile(list, []byte("file,crimp\n"+filepath.Join(dir, "5.jpg")+",5\n4.jpg,6\n"), 0o644))

	crimps := func(l *Listing) map[string]string {
		all := map[string]string{}
		for _, f := range l.Files {
			all[f.File] = f.Label.Crimp
		}
		return all
	}
	assert.Equal(t, map[string]string{"north/1.jpg": "1", "north/2.jpg": "2", "gru\u0308n.jpg": "3", "4.jpg": "4", "5.jpg": ""}, crimps(find(t, FindOptions{}, dir)))
	l := find(t, FindOptions{Manifest: list}, dir)
	assert.Equal(t, map[string]string{"north/1.jpg": "", "north/2.jpg": "", "gru\u0308n.jpg": "", "4.jpg": "6", "5.jpg": "5"}, crimps(l))
	assert.Equal(t, []string{list}, l.Manifests, "the one that is named counts alone")
}

func TestEachSourceHasItsOwnManifest(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "north/1.jpg", "south/1.jpg")
	for name, crimp := range map[string]string{"north": "N1", "south": "S1"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name, manifestName), []byte("file,crimp\n1.jpg,"+crimp+"\n"), 0o644))
	}
	l := find(t, FindOptions{}, filepath.Join(dir, "north"), filepath.Join(dir, "south"))
	assert.Equal(t, "N1", l.Files[0].Label.Crimp)
	assert.Equal(t, "S1", l.Files[1].Label.Crimp)
	assert.Len(t, l.Manifests, 2)
}

func TestAnyNameCanBeWrittenIntoAManifest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := rapid.SliceOfNDistinct(fileNames().Filter(utf8.ValidString), 1, 6, written).Draw(t, "names")
		comma := rapid.SampledFrom([]rune{',', ';', '\t'}).Draw(t, "comma")
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		w.Comma = comma
		require.NoError(t, w.Write([]string{"file", "crimp"}))
		at := map[string]string{}
		for _, n := range names {
			require.NoError(t, w.Write([]string{n, "crimp of " + n}))
			at[written(n)] = n
		}
		w.Flush()
		rows, err := readManifest("manifest.csv", b.Bytes(), finder{picture: func(cell string) string { return at[written(cell)] }})
		require.NoError(t, err)
		require.Len(t, rows, len(names))
		for i, r := range rows {
			assert.Equal(t, names[i], r.picture)
			assert.Equal(t, plain("crimp of "+names[i]), r.label.Crimp)
		}
	})
}

func FuzzManifest(f *testing.F) {
	for _, seed := range []string{
		"file,crimp,view,scale,declare,tolerances,string,crew,tool,trainee,date,own_verdict,note\na.jpg,1,seam,chessboard=5mm,strand_count=56,a.yaml,n,A,T1,t,2026-05-04,good,x\n",
		"file;crimp\n\"a\nb.jpg\";1\n", "\xef\xbb\xbffile\tcrimp\r\na\t1\r\n", "file,crimp\n\"a", "file\ra.jpg\r", "file,scale\na,= = 5", "fíle\n\xff", "file,date\na,2026-02-30",
	} {
		f.Add([]byte(seed))
	}
	find := finder{picture: func(cell string) string { return cell }, tolerances: func(path string) (string, error) { return path, nil }}
	f.Fuzz(func(t *testing.T, data []byte) {
		rows, err := readManifest("m.csv", data, find)
		if err != nil {
			assert.Contains(t, err.Error(), "m.csv:")
			assert.True(t, utf8.ValidString(err.Error()))
			assert.Empty(t, rows)
		}
		seen := map[string]bool{}
		for _, r := range rows {
			assert.NotEmpty(t, r.file)
			assert.False(t, seen[r.file])
			seen[r.file] = true
			for _, part := range []string{r.label.Crimp, r.label.String, r.label.Crew, r.label.Tool, r.label.Trainee} {
				assert.LessOrEqual(t, utf8.RuneCountInString(part), maxLabel)
			}
		}
	})
}

// Spreadsheets save "Unicode text" as UTF-16 with a mark and tabs.
func TestAManifestInUTF16(t *testing.T) {
	text, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String("file\tcrimp\tcrew\r\na.jpg\t7\tGröße\r\n")
	require.NoError(t, err)
	l := find(t, FindOptions{}, withManifest(t, text, "a.jpg"))
	assert.Equal(t, site.Label{Crimp: "7", Crew: "Größe"}, l.Files[0].Label)
}

func TestDatesToComeAreMistakes(t *testing.T) {
	now := func() time.Time { return time.Date(2026, 5, 4, 23, 0, 0, 0, time.UTC) }
	for date, wrong := range map[string]bool{"2026-05-03": false, "2026-05-04": false, "2026-05-05": false, "2026-05-06": true, "2062-05-04": true} {
		dir := withManifest(t, "file,date\na.jpg,"+date+"\n", "a.jpg")
		_, err := Find([]string{dir}, FindOptions{Now: now})
		if !wrong {
			assert.NoError(t, err, "%s: somewhere it may be tomorrow already", date)
			continue
		}
		assert.ErrorContains(t, err, "manifest.csv:2:7: "+date+" is still to come")
		assert.ErrorContains(t, err, "write the day on which the crimp was made")
	}
	dir := withManifest(t, "file,date\na.jpg,"+time.Now().AddDate(0, 0, 3).Format(time.DateOnly)+"\n", "a.jpg")
	_, err := Find([]string{dir}, FindOptions{})
	assert.ErrorContains(t, err, "is still to come", "the clock is that of the machine where none is given")
}

// Blanks at the ends, those that tables make for others, line breaks and capitals of fixed words change nothing.
func TestCellsAreReadAsTheyLook(t *testing.T) {
	dir := withManifest(t, "File , crimp,string,crew,trainee,own_verdict,view,scale\n"+
		"a.jpg, 1\u00a0,N03 ,\"crew\nA\",\tAnna , GOOD ,Seam,Chessboard=5mm\n"+
		"b.jpg,2,N03,crew A,Anna,Bad,SIDE ,rule=1mm\n"+
		"c.jpg,3,Su\u0308d, ,Anna\u200b,,,\n"+
		"d.jpg ,4,S\u00fcd,,Anna,,,\n", "a.jpg", "b.jpg", "c.jpg", "d.jpg", "d.jpg .jpg")
	l := find(t, FindOptions{}, dir)
	labels := map[string]site.Label{}
	for _, f := range l.Files {
		labels[f.File] = f.Label
	}
	assert.Equal(t, map[string]site.Label{
		"a.jpg": {Crimp: "1", String: "N03", Crew: "crew A", Trainee: "Anna", Own: record.Conforms}, "b.jpg": {Crimp: "2", String: "N03", Crew: "crew A", Trainee: "Anna", Own: record.DoesNotConform},
		"c.jpg": {Crimp: "3", String: "S\u00fcd", Trainee: "Anna"}, "d.jpg": {Crimp: "4", String: "S\u00fcd", Trainee: "Anna"}, "d.jpg .jpg": {},
	}, labels)
	assert.Equal(t, []string{"chessboard=5mm"}, l.Files[0].Scales)
	assert.Equal(t, record.Seam, l.Files[0].View)
	assert.Empty(t, l.Notes)
}

// Names that differ in what people do not mean are told of, and not put together.
func TestNamesThatAreNearlyAlikeAreTold(t *testing.T) {
	dir := withManifest(t, "file,crimp,string,crew,tool\na.jpg,01,N03,crew A,T1\nb.jpg,1,N03,Crew A,T2\nc.jpg,1,n03,crew B,T10\nd.jpg,2,N003,crew B,T1\n",
		"a.jpg", "b.jpg", "c.jpg", "d.jpg")
	assert.Equal(t, []string{
		`"N03" and "n03", "n03" and "N003" are taken for different strings: where they are the same, write them alike, and scan again`,
		`"crew A" and "Crew A" are taken for different crews: where they are the same, write them alike, and scan again`,
		`"01" and "1" are taken for different crimps: where they are the same, write them alike, and scan again`,
	}, find(t, FindOptions{}, dir).Notes)
}

// One mistake that stands in many lines is one, and hides no other.
func TestOneMistakeInManyLinesIsToldOnce(t *testing.T) {
	here := t.TempDir()
	t.Chdir(here)
	require.NoError(t, os.WriteFile("limits.yaml", []byte("name: x"), 0o644))
	text := "file,crimp,tolerances,view\n"
	var names []string
	for i := range 20 {
		name := fmt.Sprintf("%d.jpg", i)
		names = append(names, name)
		text += fmt.Sprintf("%s,%d,../site/limits.yaml,%s\n", name, i, map[bool]string{true: "seem"}[i == 15])
	}
	dir := withManifest(t, text, names...)
	_, err := Find([]string{dir}, FindOptions{})
	assert.ErrorContains(t, err, `manifest.csv:2:9: tolerances file "../site/limits.yaml" does not exist: check the path (in 20 lines: 2-21)`)
	assert.ErrorContains(t, err, `a file "limits.yaml" lies in the folder from which you call: copy it to the manifest's, or write its whole path`)
	assert.ErrorContains(t, err, `:17:31: there is no view "seem"`)
	assert.Equal(t, 2, strings.Count(err.Error(), "manifest.csv:"))
}
