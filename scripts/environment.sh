# Sourced by demo, test and bench: prepare_environment NAME WHAT makes .venv/NAME and installs WHAT into it.
prepare_environment() {
    VENV=".venv/$1"
    python="${PYTHON:-python3}"
    "$python" - <<'PYTHON'
import sys
if sys.version_info < (3, 11):
    sys.exit(f"Python 3.11 or newer is needed; this is {sys.version.split()[0]}. Set PYTHON to a newer one.")
PYTHON
    stamp="$VENV/installed"
    if [ ! -e "$stamp" ] || [ pyproject.toml -nt "$stamp" ] || [ scripts/constraints.txt -nt "$stamp" ]; then
        echo "Preparing $VENV ..." >&2
        [ -x "$VENV/bin/python" ] || "$python" -m venv "$VENV"
        "$VENV/bin/python" -m pip install --quiet --disable-pip-version-check \
            --constraint scripts/constraints.txt --editable "$2"
        touch "$stamp"
    fi
}
