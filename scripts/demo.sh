#!/usr/bin/env bash
# Measures and judges the demo pictures in samples/ with the tolerances files there, one call a kind of picture, then draws,
# scans and grades an invented site, and leaves what came of it in demo-results/. A demo crimp that does not conform is part of the demo (status 3); only a fault is a
# failure.
set -euo pipefail
cd "$(dirname "$0")/.."

results=demo-results
rm -rf "$results"
mkdir -p "$results"
number=0

# show TITLE OPTIONS PICTURE...: one call of the program, first for people, then again for the records.
show() {
	local title=$1 words=$2 options
	read -ra options <<<"$words"
	shift 2
	for file in "$@"; do
		[ -f "$file" ] || { echo "demo: there is no $file; fetch the whole repository anew" >&2; exit 1; }
	done
	number=$((number + 1))
	printf '==== %d. %s\n$ ./crimprule measure %s PICTURE...\n\n' "$number" "$title" "${words/ --tolerances/ \\$'\n'      --tolerances}"
	measured ./crimprule measure "${options[@]}" --overlay "$results" "$@"
	echo
	measured ./crimprule measure "${options[@]}" --json --details "$@" >>"$results/records.jsonl"
}

# Calls the program and lets pass that a demo crimp does not conform.
measured() {
	local status=0
	"$@" || status=$?
	case $status in
	0 | 3) ;;
	*) echo "demo: crimprule ended with status $status; see above" >&2; exit 1 ;;
	esac
}

all() {
	show "Crimps seen onto the seam, beside a printed chessboard; one photo shows two of them" \
		"--view auto --scale chessboard=5mm --tolerances samples/canopy-4mm2.yaml" \
		samples/canopy-north-string-03-crimp-0[12].jpg samples/canopy-south-string-07-crimp-04.jpg samples/workshop-trainee-3-crimp-0[123].jpg
	show "A crimp beside a disc of 20 mm" \
		"--view auto --scale disc=20mm --tolerances samples/canopy-4mm2.yaml" samples/canopy-south-string-07-crimp-05.jpg
	show "The first crimp again, laid on its side, beside a steel rule" \
		"--view auto --scale rule=1mm --tolerances samples/canopy-4mm2-side.yaml" samples/canopy-north-string-03-crimp-01-side.jpg
	show "A stripped wire, before it is crimped" \
		"--view auto --scale chessboard=5mm --tolerances samples/workshop-4mm2-strip.yaml" samples/workshop-trainee-3-strip-01.jpg
	show "Sections under the microscope, their scale a bar in the picture" \
		"--view section --scale bar=1000um --tolerances samples/sections/canopy-4mm2-section.yaml" samples/sections/*.jpg
}

site() {
	printf '==== A whole site: the solar canopy of a ferry terminal and its workshop, drawn, scanned and graded\n'
	printf '$ ./crimprule demo %s/site\n\n' "$results"
	./crimprule demo "$results/site"
	echo
}

all | tee "$results/report.txt"
site | tee "$results/site.txt"

cat <<TEXT
The results lie in $results/:
  report.txt         what you see above of single pictures
  records.jsonl      the same as JSON, one record a picture and line
  *.overlay.png      each picture with what was measured drawn in
  site/              the invented site with its evidence: open
                     $results/site/canopy-evidence/index.html and
                     $results/site/workshop-evidence/trainees/index.html
Your own photos:   ./crimprule scan FOLDER --scale chessboard=5mm --tolerances samples/canopy-4mm2.yaml
One by one:        ./crimprule measure --view auto --scale chessboard=5mm --tolerances samples/canopy-4mm2.yaml PICTURE...
Your own sections: ./crimprule measure --view section --scale bar=1000um --tolerances samples/sections/canopy-4mm2-section.yaml PICTURE...
TEXT
