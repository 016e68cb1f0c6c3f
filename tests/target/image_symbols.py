#!/usr/bin/python3
"""What may not be in a firmware image, looked for in its symbols; and how big the image is.

usage: image_symbols.py IMAGE.elf
Exit: 0 clean, 1 something forbidden is linked in, 2 wrong use.
"""
import re
import subprocess
import sys

PREFIX = "arm-none-eabi-"
FORBIDDEN = (
    (r"^_?(malloc|calloc|realloc|free)(_r)?$|^_sbrk", "a heap: nothing may be allocated after start"),
    (r"^_Zn[wa]|^_Zd[la]", "operator new or delete: there is no heap"),
    (r"^__cxa_(throw|begin_catch|allocate_exception)|^_Unwind_|^__gnu_unwind", "exceptions"),
    (r"^__dynamic_cast$|^_ZTI", "run-time type information"),
    (r"^(sin|cos|tan|exp|exp2|log|log2|log10|pow|tanh|atan|atan2|fma|sqrt)f?$",
     "libm: its last bits differ between machines"),
    (r"^_?(v?s?n?printf|v?s?scanf)(_r)?$", "formatted printing"),
)


def run(*command):
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        print(f"{' '.join(map(str, command))}: {done.stderr.strip()}; is the image built? "
              "cmake --preset arm && cmake --build --preset arm", file=sys.stderr)
        sys.exit(2)
    return done.stdout


def forbidden(names):
    return [f"{name}: {why}" for name in names for pattern, why in FORBIDDEN if re.search(pattern, name)]


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    names = sorted({line.split()[-1] for line in run(PREFIX + "nm", sys.argv[1]).splitlines()})
    if "board_main" not in names:
        print(f"image_symbols: {sys.argv[1]} has no board_main: not a firmware image", file=sys.stderr)
        return 2
    sections = dict(re.findall(r"^(\.\S+)\s+(\d+)", run(PREFIX + "size", "-A", sys.argv[1]), re.MULTILINE))
    size = {name: int(sections.get(name, 0)) for name in (".vectors", ".text", ".data", ".bss", ".stack")}
    print(f"flash {size['.vectors'] + size['.text'] + size['.data']} bytes, "
          f"static memory {size['.data'] + size['.bss']} bytes, stacks {size['.stack']} bytes")
    found = forbidden(names)
    for line in found:
        print("image_symbols: " + line, file=sys.stderr)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
