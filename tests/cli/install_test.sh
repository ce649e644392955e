#!/bin/sh
# An installed tree works from any place: install, move the tree, check a new show from there, and build a consumer of the
# library with pkg-config. Usage: install_test.sh CMAKE BUILD_DIR COMPILER [COMPILER FLAG...]
set -eu
cmake=$1 build=$2 compiler=$3
shift 3
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

"$cmake" --install "$build" --prefix "$work/first" >"$work/log"
mv "$work/first" "$work/moved"
prefix=$work/moved
cd "$work"
unset RIGCALL_SCRIPTS

for file in bin/rigcall include/rigcall/model.h share/rigcall/scripts/rules/address-fits.lua share/man/man1/rigcall.1 \
    share/doc/rigcall/LICENSE share/doc/rigcall/README.md share/doc/rigcall/scripts/README.md share/doc/rigcall/regdb-LICENSE.txt; do
    [ -s "$prefix/$file" ] || { echo "not installed: $file"; exit 1; }
done
[ ! -e "$prefix/share/rigcall/scripts/dev" ] || { echo "installed by mistake: scripts/dev"; exit 1; }

"$prefix/bin/rigcall" new first
"$prefix/bin/rigcall" check first.show.lua
# The scripts are those of the moved tree, not of the source tree: one less there is one rule less.
rm "$prefix/share/rigcall/scripts/rules/region-power.lua"
rules=$(find "$prefix/share/rigcall/scripts/rules" -name "*.lua" | wc -l)
"$prefix/bin/rigcall" check first.show.lua | grep -q ": $rules rules, 0 fail"

pc=$(find "$prefix" -name rigcall.pc)
PKG_CONFIG_PATH=$(dirname "$pc")
export PKG_CONFIG_PATH
cat >consumer.c <<'END'
#include <rigcall/showfile.h>
#include <stdio.h>
int main(int argc, char **argv)
{
    struct show *show;
    struct rig_why why;
    if (argc != 2 || showfile_load(argv[1], &show, &why))
        return 1;
    printf("%u fixtures\n", show->fixture_count);
    show_free(show);
    return 0;
}
END
# shellcheck disable=SC2046
"$compiler" "$@" -o consumer consumer.c $(pkg-config --static --cflags --libs rigcall)
[ "$(./consumer first.show.lua)" = "3 fixtures" ] || { echo "the consumer does not see 3 fixtures"; exit 1; }
