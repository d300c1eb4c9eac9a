#!/usr/bin/env bash
# Installs what building needs on Debian 12 or Ubuntu 24.04, without a prompt, and only what is missing.
#
#   scripts/setup.sh build   compiler, pkg-config and OpenCV
#   scripts/setup.sh lint    the same and golangci-lint in ./bin
#   scripts/setup.sh test    the same, OpenCV's sample pictures, which some tests measure, and a browser and a reader of
#                            PDFs for the tests of the evidence
set -euo pipefail
cd "$(dirname "$0")/.."

goal=${1:-build}
lint_version=v2.15.0

fail() {
	printf 'setup: %s\n' "$@" >&2
	exit 1
}

# The go command of 1.21 and later fetches a newer one by itself, if it may; older ones cannot read go.mod.
check_go() {
	local needed
	needed=$(awk '$1 == "go" { print $2 }' go.mod)
	command -v go >/dev/null || fail "there is no go command on the PATH; Go $needed or newer is needed." \
		"Install it as https://go.dev/doc/install says, put its bin folder on the PATH, and call make again."
	go list -m >/dev/null 2>&1 || fail "$(go env GOVERSION) is older than this project's Go $needed and could not fetch it." \
		"Install Go $needed or newer as https://go.dev/doc/install says, and call make again."
}

installed() {
	[ "$(dpkg-query -W -f='${db:Status-Status}' "$1" 2>/dev/null)" = installed ]
}

install_packages() {
	local wanted=(g++ pkg-config libopencv-dev) missing=() package as_root=()
	if [ "$goal" = test ]; then
		wanted+=(opencv-doc poppler-utils)
		# Ubuntu has chromium as a snap only, which needs more than a package: there the browser's tests are skipped.
		[ "$(. /etc/os-release && echo "$ID")" != debian ] || wanted+=(chromium)
	fi
	if ! command -v apt-get >/dev/null; then
		PKG_CONFIG_PATH='' pkg-config --exists 'opencv4 >= 4.6' && return
		fail "this is no Debian or Ubuntu: install a C++ compiler, pkg-config and OpenCV 4.6 by hand, and call make again."
	fi
	for package in "${wanted[@]}"; do
		installed "$package" || missing+=("$package")
	done
	[ ${#missing[@]} -gt 0 ] || return 0

	if [ "$(id -u)" -ne 0 ]; then
		sudo -n true 2>/dev/null || fail "these Debian packages are missing: ${missing[*]}" \
			"Call make as root, or install them first: sudo apt-get install ${missing[*]}"
		as_root=(sudo -n)
	fi
	echo "setup: installing ${missing[*]}"
	"${as_root[@]}" apt-get -qq -o DPkg::Lock::Timeout=300 update
	"${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -qq -y -o DPkg::Lock::Timeout=300 \
		install --no-install-recommends "${missing[@]}" >/dev/null
}

install_linter() {
	if [ -x bin/golangci-lint ] && [[ "$(bin/golangci-lint version)" == *"${lint_version#v}"* ]]; then
		return
	fi
	echo "setup: building golangci-lint $lint_version (once, some minutes)"
	GOBIN="$PWD/bin" CGO_ENABLED=0 go install "github.com/golangci/golangci-lint/v2/cmd/golangci-lint@$lint_version"
}

case $goal in
build | lint | test) ;;
*) fail "unknown goal '$goal'; call it with build, lint or test." ;;
esac
check_go
install_packages
[ "$goal" = build ] || install_linter
