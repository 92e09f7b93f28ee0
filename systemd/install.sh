#!/bin/sh
# Install Treadle as a service of this machine, or bring an installed one up to date.
#   sudo systemd/install.sh [WHAT] [OPTION...]
# WHAT    a wheel or a folder; without it, the folder that this script came in
# OPTION  handed to pip: "--no-index --find-links /media/stick" needs no network
# DESTDIR, if set, is put before every path: to try it in a folder, or fill an image.
set -eu

again="sudo $0 $*"
here=$(cd "$(dirname "$0")" && pwd)
root=${DESTDIR:-}
case ${1:-} in
"" | -*) what=$here/.. ;;
*)
    what=$1
    shift
    ;;
esac

if [ ! -e "$what/pyproject.toml" ] && [ ! -f "$what" ]; then
    echo "Nothing to install at $what: name a wheel, or the folder that holds" \
        "pyproject.toml, as in: sudo $0 treadle.whl" >&2
    exit 2
fi
if [ -z "$root" ] && [ "$(id -u)" -ne 0 ]; then
    echo "This writes to /opt and /etc, so it must be root: $again" >&2
    exit 2
fi
if ! python3 -c 'import ensurepip' 2>/dev/null; then
    echo "Python lacks its venv here: apt-get install python3-venv" >&2
    exit 2
fi

echo "Treadle into $root/opt/treadle"
python3 -m venv "$root/opt/treadle"
package="treadle[gpio,modbus,panel] @ file://$(realpath "$what")"
pip() {
    "$root/opt/treadle/bin/python" -m pip --quiet --disable-pip-version-check "$@"
}
pip install "$@" "$package"
# pip leaves alone what has the same version number, whatever is in it.
pip install --force-reinstall --no-deps "$@" "$package"
# What runs from an image must not ask for the folder that the image was filled in.
if [ -n "$root" ]; then
    for file in "$root"/opt/treadle/bin/*; do
        if [ ! -L "$file" ] && grep -qI "$root/opt" "$file"; then
            sed -i "s|$root/opt|/opt|g" "$file"
        fi
    done
fi

echo "Unit, groups and device rule into $root/etc"
put() {
    mkdir -p "$root$(dirname "$2")"
    install -m 0644 "$here/$1" "$root$2"
}
put treadle.service /etc/systemd/system/treadle.service
put treadle-sysusers.conf /etc/sysusers.d/treadle.conf
put treadle-udev.rules /etc/udev/rules.d/70-treadle.rules
mkdir -p "$root/etc/treadle"

# Only where systemd runs (see sd_booted(3)), and not into another root.
if [ -z "$root" ] && [ -d /run/systemd/system ]; then
    systemd-sysusers treadle.conf
    udevadm control --reload
    udevadm trigger --subsystem-match=gpio
    systemctl daemon-reload
    systemctl enable --quiet treadle.service
    systemctl try-restart treadle.service
fi

cat <<END
Done. It starts with the machine, as soon as there is a studio file:
  /opt/treadle/bin/treadle check /etc/treadle/studio.yaml
  systemctl restart treadle
  systemctl status treadle
END
