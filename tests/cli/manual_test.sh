#!/bin/sh
# The manual page and README.md name every command; the page names every option that --help shows, and no other.
# Usage: manual_test.sh PROGRAM SOURCE_DIR
set -eu
program=$1 source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
page=$source/src/cli/rigcall.1

# The page's section of one command, with the dashes of troff made plain.
section() {
    sed 's/\\-/-/g' "$page" | awk -v name="$1" '/^\.S[HS]/ { on = ($1 == ".SS" && $2 ~ ("^\"?" name "\"?$")) } on'
}
long_options() {
    grep -o -- '--[a-z][a-z0-9-]*' | sort -u
}

commands=$("$program" help | sed -n '/^Commands:/,/^$/s/^  \([a-z]*\) .*/\1/p')
[ -n "$commands" ]
for command in $commands; do
    grep -q "rigcall $command" "$source/README.md" || { echo "README.md does not name rigcall $command"; exit 1; }
    sed 's/\\-/-/g' "$page" | grep -q "rigcall $command" || { echo "rigcall.1 does not name rigcall $command"; exit 1; }
    "$program" "$command" --help | sed -n '/^Options:/,/^$/p' | grep '^  -' | sed 's/^  -., /  /' | awk '{ print $1 }' | grep -v -- '^--help$' |
        sort -u >"$work/help" || true
    section "$command" | grep -A1 '^\.TP' | grep -v '^\.TP' | long_options >"$work/page" || true
    if ! diff "$work/help" "$work/page"; then
        echo "rigcall.1 and rigcall $command --help differ in options (< help, > page)"
        exit 1
    fi
done
