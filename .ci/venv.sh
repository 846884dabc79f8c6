# Sourced by the commands beside it: a virtual environment in .venv that holds exactly a lock file.
# usage: lock=run (or test); . .ci/venv.sh
set -eu
cd "$(dirname "$0")/.."

find_python() {
  for name in python3.13 python3.12 python3.11 python3 python; do
    if command -v "$name" >/dev/null 2>&1 &&
       "$name" -c 'import sys; sys.exit(sys.version_info[:2] < (3, 11))' 2>/dev/null
    then echo "$name"; return; fi
  done
  echo "cutopt needs Python 3.11 or later; none was found" >&2
  exit 1
}

# A virtual environment that was made for another folder, or of another Python, is made anew.
if [ ! -x .venv/bin/python ] ||
   [ "$(.venv/bin/python -c 'import sys; print(sys.prefix)' 2>/dev/null)" != "$PWD/.venv" ]; then
  rm -rf .venv
  "$(find_python)" -m venv .venv
fi

# Installed once; again only when the lock or the package's own description changed.
wanted="$lock $(cat ".ci/lock/$lock.txt" pyproject.toml | cksum)"
stamp=.venv/installed
if [ "$(cat $stamp 2>/dev/null)" != "$wanted" ]; then
  if [ "$lock" = run ] && [ "$(cat $stamp 2>/dev/null)" = "test $(cat .ci/lock/test.txt pyproject.toml | cksum)" ]; then
    : # the test lock holds all of the run lock
  else
    echo "installing what .ci/lock/$lock.txt lists into .venv" >&2
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes \
      -r ".ci/lock/$lock.txt"
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes \
      -r .ci/lock/build.txt
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-deps \
      --no-build-isolation -e .
    echo "$wanted" > $stamp
  fi
fi
