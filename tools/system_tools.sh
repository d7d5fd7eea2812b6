#!/bin/sh
# Brings what the tests need from outside Python, through apt where that can be done without asking (as root or with
# a sudo that wants no password): ngspice, the simulator that some tests compare with, and chromium, the browser that
# others look at the pages with. What cannot be brought is said in one line each; those tests are then skipped.
set -u

wait_seconds=${PROBEWRIGHT_APT_WAIT:-300} # for others to let go of apt's locks
run_seconds=900                             # for apt itself
log=$(mktemp) && trap 'rm -f "$log"' EXIT

missing() { # missing TOOL REASON
    echo "$1 is missing ($2), so the tests that need it are skipped; to run them: sudo apt-get install $1"
}

apt() {
    timeout $((wait_seconds + run_seconds)) $root DEBIAN_FRONTEND=noninteractive \
        apt-get -qq -o DPkg::Lock::Timeout="$wait_seconds" -o APT::Acquire::Retries=2 "$@" </dev/null >"$log" 2>&1
}

held() { grep -Eq 'Could not get lock|Unable to (acquire|lock)' "$log"; }

# The lists' lock is not covered by DPkg::Lock::Timeout, so a held one is tried again, for a bounded time.
until_free() {
    end=$(($(date +%s) + wait_seconds))
    until apt "$@"; do
        held && [ "$(date +%s)" -lt "$end" ] || return 1
        sleep 3
    done
}

# Ubuntu's package of this name holds no browser: it fetches a snap, which needs a running snapd and hides our folders.
only_a_snap() { apt-cache show "$1" 2>/dev/null | grep -Eiq '^(Pre-)?Depends:.*snapd|transitional.*snap|snap package'; }

bring() { # bring TOOL: the package has the name of the command
    command -v "$1" >/dev/null 2>&1 && return
    if ! command -v apt-get >/dev/null 2>&1; then
        missing "$1" "no apt-get here to install it"
        return
    elif [ "$(id -u)" = 0 ]; then
        root="env"
    elif sudo -n true >/dev/null 2>&1; then
        root="sudo -n env"
    else
        missing "$1" "no root and no sudo without a password"
        return
    fi
    if only_a_snap "$1"; then
        echo "$1 is missing (here its package only fetches a snap), so the tests that need it are skipped; put another $1 on the path"
        return
    fi
    echo "installing $1 through apt for the tests that need it"
    until_free install -y --no-install-recommends "$1" ||
        { ! held && until_free update && ! only_a_snap "$1" && until_free install -y --no-install-recommends "$1"; } ||
        missing "$1" "apt-get said: $(grep -m 1 '^E:' "$log" || tail -n 1 "$log")"
}

bring ngspice
bring chromium
