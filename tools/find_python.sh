#!/bin/sh
# Print the path of a Python that can build the environment: it runs, is 3.11 or newer and has the venv module.
# Usage: find_python.sh [INTERPRETER]    (the one named is the only one tried)
# A name on the path proves nothing (a version manager's stand-in may fail), so each candidate is started.
# Only shell built-ins are used, so that it works wherever make does.

usable='import sys
if sys.version_info < (3, 11):
    sys.exit(3)
try:
    import ensurepip, venv
except ImportError:
    sys.exit(4)
print(getattr(sys, "_base_executable", "") or sys.executable)'

too_old=
without_venv=
for candidate in ${1:-python3.13 python3.12 python3.11 python3}; do
    command -v "$candidate" >/dev/null 2>&1 || continue
    found=$("$candidate" -c "$usable" 2>/dev/null)
    case $? in
        0) [ -n "$found" ] && echo "$found" && exit 0 ;;
        3) too_old=$candidate ;;
        4) without_venv=$candidate ;;
    esac
done

if [ -n "$without_venv" ]; then
    echo "Wringout needs Python's venv module: $without_venv is new enough but lacks it; install it (on Debian or Ubuntu the package python3-venv) and run make again." >&2
elif [ -n "${1:-}" ]; then
    echo "Wringout needs Python 3.11 or newer: '$1' is missing, too old or does not start; give another with make PYTHON=/path/to/python3." >&2
elif [ -n "$too_old" ]; then
    echo "Wringout needs Python 3.11 or newer: $too_old is older; install a newer one, or name one with make PYTHON=/path/to/python3." >&2
else
    echo "Wringout needs Python 3.11 or newer: none was found on the path; install one, or name one with make PYTHON=/path/to/python3." >&2
fi
exit 1
