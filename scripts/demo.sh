#!/usr/bin/env bash
# Measures and judges the demo pictures in samples/ with the tolerances file there, and leaves what came of it in
# demo-results/. A demo crimp that does not conform is part of the demo (status 3); only a fault is a failure.
set -euo pipefail
cd "$(dirname "$0")/.."

results=demo-results
limits=(samples/*.yaml)
pictures=(samples/*.jpg)
for file in "${limits[@]}" "${pictures[@]}"; do
	[ -f "$file" ] || { echo "demo: there is no $file; fetch the whole repository anew" >&2; exit 1; }
done
rm -rf "$results"
mkdir -p "$results"

call=(./crimprule measure --scale chessboard=5mm --tolerances "${limits[0]}")
status=0
"${call[@]}" --overlay "$results" "${pictures[@]}" | tee "$results/report.txt" || status=$?
case $status in
0 | 3) ;;
*) echo "demo: crimprule ended with status $status; see above" >&2; exit 1 ;;
esac
"${call[@]}" --json "${pictures[@]}" >"$results/records.jsonl" || [ $? -eq 3 ]

cat <<TEXT

The results lie in $results/:
  report.txt       what you see above
  records.jsonl    the same as JSON, one record a picture and line
  *.overlay.png    each picture with what was measured drawn in
Your own pictures: ./crimprule measure --scale chessboard=5mm --tolerances ${limits[0]} PICTURE...
TEXT
