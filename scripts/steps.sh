# The steps that the two commands share; sourced by scripts/demo and scripts/test. Each step is one line on the terminal,
# its whole output goes to a log, and a step that fails says why in one sentence.
set -eu
root=$(cd "$(dirname "$0")/.." && pwd)
build=$root/build
logs=$build/logs
mkdir -p "$logs"

# step NAME "what it does" "what to do when it fails" COMMAND...
step() {
  name=$1 what=$2 remedy=$3
  shift 3
  printf '%-46s ' "$what"
  started=$(date +%s)
  if "$@" >"$logs/$name.log" 2>&1; then
    printf 'done, %s s\n' "$(($(date +%s) - started))"
  else
    printf 'failed\n'
    tail -n 25 "$logs/$name.log" >&2
    printf '\n%s could not be done: %s (whole log: %s)\n' "$what" "$remedy" "$logs/$name.log" >&2
    exit 1
  fi
}

as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }

# Installs what is missing and nothing else. npm comes with some builds of Node.js, so only its absence counts.
install_packages() {
  missing=$(grep -v '^#' "$root/scripts/packages.txt" | while read -r package; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'install ok installed' || echo "$package"
  done)
  command -v npm >/dev/null || missing="$missing npm"
  [ -n "$missing" ] || return 0
  export DEBIAN_FRONTEND=noninteractive
  as_root apt-get -o DPkg::Lock::Timeout=300 update -qq
  # shellcheck disable=SC2086
  as_root apt-get -o DPkg::Lock::Timeout=300 install -y -qq --no-install-recommends $missing
}

configure() { cmake -S "$root" -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=RelWithDebInfo; }

set_up() {
  step packages "Debian packages" "check the network and that you may install packages" install_packages
  step runtime "Inference runtime" "check the network, then run the command again" "$root/scripts/fetch_runtime"
  step gazetteer-data "Gazetteer data" "check the network, then run the command again" "$root/scripts/fetch_gazetteer"
  step configure "Build files" "see the log" configure
}
