#!/bin/sh
# Sees to a Chromium, and where that can be done unasked a Firefox, for the tests of the map.
set -eu

there() {
    for name in "$@"; do
        if [ -n "$name" ] && command -v "$name" >/dev/null 2>&1; then return 0; fi
    done
    return 1
}

install() {
    echo "Installing $1 for the tests of the map"
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$1" >/dev/null
}

unasked() { [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; }

# The tests of Firefox are left out, and say so, where there is none.
if ! there firefox-esr firefox && unasked; then install firefox-esr || true; fi
if there "${SEABED_CHROMIUM:-}" chromium-headless-shell; then exit 0; fi
# Chromium without windows takes three fifths of the processor time.
if unasked && install chromium-headless-shell; then exit 0; fi
if there chromium chromium-browser google-chrome; then exit 0; fi
if unasked; then install chromium && exit 0; fi

cat >&2 <<'TEXT'
The tests of the map need Chromium, which was not found.  Install it:
  Debian           sudo apt install chromium-headless-shell
  Ubuntu           sudo apt install chromium-browser
  Fedora           sudo dnf install chromium
  macOS            brew install --cask chromium
or set SEABED_CHROMIUM to a Chromium or Chrome.  `pytest -m "not browser"` leaves those tests out.
TEXT
# On a developer's machine the other tests still run; in CI a missing browser is a fault.
[ -z "${CI:-}" ]
