#!/bin/sh
# Sees to a Chromium for the tests of the map; installs it where that can be done unasked.
set -eu

for name in "${SEABED_CHROMIUM:-}" chromium chromium-browser google-chrome; do
    if [ -n "$name" ] && command -v "$name" >/dev/null 2>&1; then
        exit 0
    fi
done

if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "Installing Chromium for the tests of the map"
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium >/dev/null
    exit 0
fi

cat >&2 <<'TEXT'
The tests of the map need Chromium, which was not found.  Install it:
  Debian, Ubuntu   sudo apt install chromium
  Fedora           sudo dnf install chromium
  macOS            brew install --cask chromium
or set SEABED_CHROMIUM to a Chromium or Chrome.  `pytest -m "not browser"` leaves those tests out.
TEXT
# On a developer's machine the other tests still run; in CI a missing browser is a fault.
[ -z "${CI:-}" ]
