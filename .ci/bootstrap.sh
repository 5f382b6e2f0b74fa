#!/usr/bin/env bash
# Makes this machine ready: system libraries (only the missing ones), .venv, the locked packages.
# Safe to run again; a second run takes well under a second. WANT_BROWSER=1 adds what browser tests need.
set -euo pipefail
cd "$(dirname "$0")/.."

python=${PYTHON:-python3}
venv=.venv
want_browser=${WANT_BROWSER:-0}

# Not grep -q: it leaves at the first find, ldconfig then ends by SIGPIPE, and pipefail says the library is missing.
has_library() { { ldconfig -p 2>/dev/null || /sbin/ldconfig -p; } | grep -- "$1" >/dev/null; }
has_command() { command -v "$1" >/dev/null 2>&1; }

list_missing() {
  { has_command "$python" && "$python" -c 'import venv, ensurepip' 2>/dev/null; } || echo python3-venv
  has_library libpango-1.0.so.0 || echo libpango-1.0-0
  has_library libpangoft2-1.0.so.0 || echo libpangoft2-1.0-0
  has_library libharfbuzz-subset.so.0 || echo libharfbuzz-subset0
  has_library libfontconfig.so.1 || echo libfontconfig1
  [ -e /usr/share/fonts/truetype/dejavu/DejaVuSans.ttf ] || echo fonts-dejavu-core
  [ -e /etc/ssl/certs/ca-certificates.crt ] || echo ca-certificates
  [ "$want_browser" = 1 ] || return 0
  has_command chromium || echo chromium
  has_library libatomic.so.1 || echo libatomic1 # for the node inside playwright
  has_command zbarimg || echo zbar-tools
  has_command pdftoppm || echo poppler-utils
}

install_system_packages() {
  local command="apt-get update -q && DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $*"
  local log run
  if ! has_command apt-get; then
    printf 'These system packages are missing (Debian names):\n  %s\nInstall them, then run make again.\n' "$*" >&2
    exit 3
  elif [ "$(id -u)" = 0 ]; then
    run=(bash -c "$command")
  elif has_command sudo && sudo -n true 2>/dev/null; then
    run=(sudo bash -c "$command")
  else
    printf 'These system packages are missing and this user may not install them:\n  %s\n' "$*" >&2
    printf 'Ask an administrator to run:\n  sudo bash -c "%s"\nthen run make again.\n' "$command" >&2
    exit 3
  fi
  echo "== Installing system packages: $*"
  log=$(mktemp)
  "${run[@]}" >"$log" 2>&1 || { tail -20 "$log" >&2; exit 3; }
  rm -f "$log"
}

install_python_packages() {
  local stamp log
  stamp="$venv/.lock-$(sha256sum requirements.lock | cut -c1-16)"
  [ ! -e "$stamp" ] || return 0
  echo "== Installing Python packages (about half a minute the first time)"
  [ -x "$venv/bin/python" ] || "$python" -m venv "$venv"
  log=$(mktemp)
  "$venv/bin/python" -m pip install -q --disable-pip-version-check --no-deps --require-hashes \
    -r requirements.lock >"$log" 2>&1 || { tail -20 "$log" >&2; exit 4; }
  "$venv/bin/python" -m pip check >"$log" 2>&1 || { cat "$log" >&2; exit 4; }
  rm -f "$venv"/.lock-* "$log"
  touch "$stamp"
}

mapfile -t missing < <(list_missing)
[ ${#missing[@]} -eq 0 ] || install_system_packages "${missing[@]}"
"$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || {
  echo "Python 3.11 or newer is needed; found $("$python" -V). Set PYTHON=/path/to/python3.11." >&2
  exit 3
}
# Two calls at once (make -j, two terminals) must not fill the same folder.
if has_command flock; then
  exec 9>.venv.lock
  flock 9
fi
install_python_packages
