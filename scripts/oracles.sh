#!/bin/sh
# Installs the programs and data the tests compare with, when this machine lets us; otherwise says what will be skipped.
set -u
need=""
for pair in gs:ghostscript mutool:mupdf-tools qpdf:qpdf transicc:liblcms2-utils xmllint:libxml2-utils opj_decompress:libopenjp2-tools jbig2dec:jbig2dec chromium:chromium; do
  command -v "${pair%%:*}" >/dev/null 2>&1 || need="$need ${pair#*:}"
done
# Measured data of printing conditions, for the tests of the look.
sets=/usr/share/color/icc/FOGRA39L.ti3
[ -f "$sets" ] || need="$need icc-profiles-free"
if [ -n "$need" ]; then
  if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    export DEBIAN_FRONTEND=noninteractive
    { apt-get update && apt-get install -y --no-install-recommends $need; } >/dev/null 2>&1 || true
  fi
fi
# The type checker and the accessibility rules for the tests of the page, in a folder of their own outside the project.
web="${LAYDOWN_ORACLES:-${XDG_CACHE_HOME:-$HOME/.cache}/laydown-oracles}/web"
if ! { [ -x "$web/node_modules/.bin/tsc" ] && [ -f "$web/node_modules/axe-core/axe.min.js" ]; } && command -v npm >/dev/null 2>&1; then
  mkdir -p "$web" && npm install --prefix "$web" --no-audit --no-fund --ignore-scripts typescript@7.0.2 axe-core@4.14.1 >/dev/null 2>&1 || true
fi
missing=""
[ -x "$web/node_modules/.bin/tsc" ] && command -v node >/dev/null 2>&1 || missing="$missing typescript"
[ -f "$web/node_modules/axe-core/axe.min.js" ] || missing="$missing axe-core"
for p in gs mutool qpdf transicc xmllint opj_decompress jbig2dec chromium; do command -v "$p" >/dev/null 2>&1 || missing="$missing $p"; done
[ -f "$sets" ] || missing="$missing icc-profiles-free"
if [ -n "$missing" ]; then
  echo "Not on this machine, tests that compare with them are skipped:$missing"
  [ "${LAYDOWN_REQUIRE_ORACLES:-}" = 1 ] && exit 1
fi
exit 0
