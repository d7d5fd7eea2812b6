#!/bin/sh
# Brings ngspice, the simulator that some tests compare with, through apt where that can be done without asking:
# as root or with a sudo that wants no password. Where it cannot, says so in one line; those tests are then skipped.
set -u
command -v ngspice >/dev/null 2>&1 && exit 0

wait_seconds=${PROBEWRIGHT_APT_WAIT:-300} # for others to let go of apt's locks
run_seconds=900                             # for apt itself
log=$(mktemp) && trap 'rm -f "$log"' EXIT

missing() {
    echo "ngspice is missing ($1), so the tests that compare with it are skipped; to run them: sudo apt-get install ngspice"
    exit 0
}

command -v apt-get >/dev/null 2>&1 || missing "no apt-get here to install it"
if [ "$(id -u)" = 0 ]; then
    root="env"
elif sudo -n true >/dev/null 2>&1; then
    root="sudo -n env"
else
    missing "no root and no sudo without a password"
fi

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

echo "installing ngspice through apt for the tests that compare with it"
until_free install -y --no-install-recommends ngspice ||
    { ! held && until_free update && until_free install -y --no-install-recommends ngspice; } ||
    missing "apt-get said: $(grep -m 1 '^E:' "$log" || tail -n 1 "$log")"
