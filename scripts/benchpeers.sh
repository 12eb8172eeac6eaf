#!/bin/sh
# Times `laydown plates` against two independent interpreters, side by side, on the public test files marked for
# timing (timing=yes), and prints a Markdown table keyed by the files' SHA-256. Run it on a quiet machine.
#
#   scripts/benchpeers.sh [-r RUNS] [-w] [HASH...]
#
# -r RUNS  timed runs of each command (5), after one that is not timed
# -w       put the table into docs/performance.md, between its two markers
# HASH...  only files whose SHA-256 begins so
#
# The folder of public files is CORPUS (../shared/corpus): files/ and index.csv. The program is LAYDOWN (./laydown).
set -eu
cd "$(dirname "$0")/.."
runs=5 write=0
while getopts r:w o; do
  case $o in
    r) runs=$OPTARG ;;
    w) write=1 ;;
    *) exit 2 ;;
  esac
done
shift $((OPTIND - 1))
corpus=${CORPUS:-../shared/corpus} laydown=$(realpath "${LAYDOWN:-./laydown}") doc=docs/performance.md
for p in hyperfine mutool gs taskset /usr/bin/time sha256sum; do
  command -v "$p" >/dev/null 2>&1 || { echo "benchpeers: $p is missing; Debian has it as hyperfine, mupdf-tools, ghostscript, util-linux, time or coreutils" >&2; exit 2; }
done
[ -x "$laydown" ] || { echo "benchpeers: build the program first: make build" >&2; exit 2; }
[ -r "$corpus/index.csv" ] || { echo "benchpeers: the public test files are not in $corpus; set CORPUS" >&2; exit 2; }

tmp=$(mktemp -d)
trap 'rm -rf "$tmp"' EXIT INT TERM

# The commands, run in a folder of their own, where the file is F. One core is core 0.
ours='laydown plates F --pages 1 --dpi 300 --format tiff --out o'
mupdf='mutool draw -q -r 300 -A 8 -O 2 -o m.psd F 1'
ghost='gs -q -sDEVICE=tiffsep -r300 -dUseFastColor=true -dUseCropBox -dMaxSpots=60 -dSAFER -dNOPAUSE -dBATCH -sCompression=none -dFirstPage=1 -dLastPage=1 -sOutputFile=g.tif F'
two='taskset -c 0,1' one='taskset -c 0 env GOMAXPROCS=1'
[ "$(nproc)" -ge 2 ] || two='taskset -c 0'

# peak COMMAND: largest resident memory of one run in MB; nothing when the command fails.
peak() {
  # shellcheck disable=SC2086
  if /usr/bin/time -o "$tmp/rss" -f %M $1 >/dev/null 2>&1; then
    awk 'END { printf "%.0f", $1 / 1024 }' "$tmp/rss"
  fi
}

# The column "file" comes first, "sha256" and "timing" are found by name; the columns wanted hold no commas.
awk -F, 'NR == 1 { for (i = 1; i <= NF; i++) col[$i] = i; next }
  $col["timing"] == "yes" { print $col["sha256"], $1 }' "$corpus/index.csv" >"$tmp/list"
mkdir "$tmp/bin" && ln -s "$laydown" "$tmp/bin/laydown"
PATH="$tmp/bin:$PATH" && export PATH
: >"$tmp/rows"
while read -r sha file; do
  key=$(printf %.8s "$sha")
  if [ $# -gt 0 ]; then
    wanted=0
    for h in "$@"; do case $key in "$h"*) wanted=1 ;; esac; done
    [ $wanted = 1 ] || continue
  fi
  dir=$tmp/$key
  mkdir "$dir" && cp "$corpus/files/$file" "$dir/F"
  echo "$sha  $dir/F" | sha256sum -c --quiet >&2 || { echo "benchpeers: $key is not the file the index means" >&2; exit 2; }
  cd "$dir"
  m1=$(peak "$ours") m2=$(peak "$mupdf") m3=$(peak "$ghost")
  if [ -z "$m1" ] || [ -z "$m2" ] || [ -z "$m3" ]; then
    echo "benchpeers: $key left out: a program failed on it" >&2
    cd "$OLDPWD"
    continue
  fi
  hyperfine -N -w 1 -r "$runs" --style none --export-csv times.csv -n ours2 "$two $ours" -n ours1 "$one $ours" \
    -n mupdf "$two $mupdf" -n mupdf1 "taskset -c 0 $mupdf" -n ghost "$two $ghost" >/dev/null 2>hyperfine.err ||
    { cat hyperfine.err >&2; exit 1; }
  awk -F, -v key="$key" -v rss="$m1 $m2 $m3" 'NR > 1 { t[$1] = $4 }
    END { print key, t["ours2"], t["ours1"], t["mupdf"], t["mupdf1"], t["ghost"], rss }' times.csv >>"$tmp/rows"
  cd "$OLDPWD"
  rm -rf "$dir"
done <"$tmp/list"
[ -s "$tmp/rows" ] || { echo "benchpeers: no file was timed" >&2; exit 2; }

cpu=$(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo 2>/dev/null | head -1)
{
  echo "Machine: $(nproc) cores${cpu:+ ($cpu)}, $(awk '/^MemTotal/ { printf "%.0f GB", $2 / 1048576 }' /proc/meminfo). $(mutool -v 2>&1 | head -1 | sed 's/^mutool version/mutool/'), gs $(gs --version), $(hyperfine --version)."
  echo "Page 1 of each file at 300 dpi, all plates written uncompressed, whole process. Medians of timed runs after one that is not (\`hyperfine -N -w 1 -r $runs\`),"
  echo "\`$two\` or, on one core, \`$one\` before the commands; memory is the most resident at any time (\`/usr/bin/time -f %M\`), unpinned:"
  echo
  echo '```'
  printf '%s\n' "$ours" "$mupdf" "$ghost"
  echo '```'
  echo
  echo '| file (SHA-256 begins) | laydown s | on one core | mutool s | on one core | gs s | to mutool | on one core | to gs | MB laydown | mutool | gs |'
  echo '|---|---|---|---|---|---|---|---|---|---|---|---|'
  awk '{ a = $2 / $4; b = $3 / $5; c = $2 / $6; la += log(a); lb += log(b); lc += log(c)
      printf "| %s | %.3f | %.3f | %.3f | %.3f | %.3f | %.2f | %.2f | %.2f | %d | %d | %d |\n", $1, $2, $3, $4, $5, $6, a, b, c, $7, $8, $9 }
    END { printf "| geometric mean | | | | | | **%.2f** | **%.2f** | **%.2f** | | | |\n", exp(la / NR), exp(lb / NR), exp(lc / NR) }' "$tmp/rows"
} >"$tmp/table"
cat "$tmp/table"

if [ $write = 1 ]; then
  for m in begin end; do
    grep -q "^<!-- peers:$m -->\$" "$doc" || { echo "benchpeers: $doc lacks the marker peers:$m" >&2; exit 2; }
  done
  awk -v table="$tmp/table" '/^<!-- peers:begin -->$/ { print; while ((getline line < table) > 0) print line; skip = 1 }
    /^<!-- peers:end -->$/ { skip = 0 } !skip { print }' "$doc" >"$tmp/doc"
  cat "$tmp/doc" >"$doc"
fi
