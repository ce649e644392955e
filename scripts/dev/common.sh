# Shared by scripts/dev/demo and scripts/dev/test: find the source tree and install what is missing. Sourced, not run.
# shellcheck shell=sh disable=SC2034  # what is set here is used by those who source it

cd "$(dirname "$0")/../.." || exit 1
root=$(pwd)

heading() {
    printf '\n==== %s\n' "$*"
}

# As root directly, otherwise by sudo, which asks.
as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    elif command -v sudo >/dev/null 2>&1; then
        sudo "$@"
    else
        echo "need root (or sudo) to run: $*" >&2
        return 1
    fi
}

# need PACKAGE...: install those Debian packages that are not there. Nothing is fetched when nothing is missing.
need() {
    missing=
    for package in "$@"; do
        status=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null || true)
        [ "$status" = installed ] || missing="$missing $package"
    done
    [ -n "$missing" ] || return 0
    heading "installing:$missing"
    # tshark asks whether others than root may capture; captures are only read here, so: no
    case "$missing" in
    *tshark*) echo 'wireshark-common wireshark-common/install-setuid boolean false' | as_root debconf-set-selections ;;
    esac
    as_root env DEBIAN_FRONTEND=noninteractive apt-get -q update
    # shellcheck disable=SC2086
    as_root env DEBIAN_FRONTEND=noninteractive apt-get -q -y --no-install-recommends install $missing
}

# configure PRESET: a tree that exists keeps its generator.
configure() {
    if [ -f ".build/$1/CMakeCache.txt" ]; then
        cmake --preset "$1"
    else
        cmake --preset "$1" -G Ninja
    fi
}

build_packages="gcc libc6-dev cmake ninja-build pkg-config liblua5.4-dev libuv1-dev libjansson-dev
    libsodium-dev uuid-dev libseccomp-dev"
