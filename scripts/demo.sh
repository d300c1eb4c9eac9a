#!/usr/bin/env bash
# Measures and judges the demo photos in samples/ and the demo sections in samples/sections/ with the tolerances files
# there, and leaves what came of it in demo-results/. A demo crimp that does not conform is part of the demo (status 3); only a fault is a failure.
set -euo pipefail
cd "$(dirname "$0")/.."

results=demo-results
seam_limits=samples/canopy-4mm2.yaml
section_limits=samples/sections/canopy-4mm2-section.yaml
photos=(samples/*.jpg)
sections=(samples/sections/*.jpg)
for file in "$seam_limits" "$section_limits" "${photos[@]}" "${sections[@]}"; do
	[ -f "$file" ] || { echo "demo: there is no $file; fetch the whole repository anew" >&2; exit 1; }
done
rm -rf "$results"
mkdir -p "$results"

seam_call=(./crimprule measure --scale chessboard=5mm --tolerances "$seam_limits")
section_call=(./crimprule measure --view section --scale bar=1000um --tolerances "$section_limits")

# Calls the program and lets pass that a demo crimp does not conform.
measured() {
	local status=0
	"$@" || status=$?
	case $status in
	0 | 3) ;;
	*) echo "demo: crimprule ended with status $status; see above" >&2; return 1 ;;
	esac
}

{
	measured "${seam_call[@]}" --overlay "$results" "${photos[@]}"
	echo
	measured "${section_call[@]}" --overlay "$results" "${sections[@]}"
} | tee "$results/report.txt"
{
	measured "${seam_call[@]}" --json "${photos[@]}"
	measured "${section_call[@]}" --json --details "${sections[@]}"
} >"$results/records.jsonl"

cat <<TEXT

The results lie in $results/:
  report.txt       what you see above
  records.jsonl    the same as JSON, one record a picture and line
  *.overlay.png    each picture with what was measured drawn in
Your own photos:   ./crimprule measure --scale chessboard=5mm --tolerances $seam_limits PICTURE...
Your own sections: ./crimprule measure --view section --scale bar=1000um --tolerances $section_limits PICTURE...
TEXT
