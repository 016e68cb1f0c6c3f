#!/usr/bin/python3
"""Worst stack of a firmware image, from its own machine code.

Every function's frame is the sum of all that its code takes off the stack pointer (conservative: paths
that exclude each other are added up), and a tail call counts as a call. Library functions are measured
like our own. Refused: recursion, a stack pointer moved by a variable amount, and an indirect call that
no line of the annotation file explains.

usage: worst_stack.py IMAGE.elf ANNOTATIONS [--above BYTES]
  ANNOTATIONS  lines "caller regex -> callee regex" over demangled names; # starts a comment
  --above      fail unless the computed worst is at least this (what painting has measured)
Exit: 0 fits, 1 does not fit or can not be bounded, 2 wrong use.
"""
import argparse
import re
import subprocess
import sys
from dataclasses import dataclass, field

PREFIX = "arm-none-eabi-"
# A fault stacks 26 words and at most one of alignment on the interrupted stack (ARMv7-M, B1.5.7).
EXCEPTION_FRAME = 108
ROOTS = (("start", "stack_bottom", "stack_top", EXCEPTION_FRAME),
         ("fault_entry", "stack_top", "fault_stack_top", EXCEPTION_FRAME))

BRANCH = re.compile(r"b(l|lx|x|xj)?(eq|ne|cs|cc|hs|lo|mi|pl|vs|vc|hi|ls|ge|lt|gt|le)?(\.n|\.w)?$|cbn?z$")


@dataclass
class Function:
    name: str
    start: int
    frame: int = 0
    calls: set = field(default_factory=set)
    indirect: bool = False
    variable: bool = False


def run(*command):
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        print(f"{' '.join(map(str, command))}: {done.stderr.strip()}; is the image built? "
              "cmake --preset arm && cmake --build --preset arm", file=sys.stderr)
        sys.exit(2)
    return done.stdout


def registers(text):
    """How many registers a list like 'r4, r5-r7, lr' or 'd8-d15' names."""
    count = 0
    for part in text.split(","):
        ends = re.findall(r"[a-z]+(\d+)", part)
        count += int(ends[1]) - int(ends[0]) + 1 if "-" in part else 1
    return count


def stack_bytes(operation, operands):
    """Bytes that one instruction takes off the stack pointer; None if the amount is not a constant."""
    listed = re.search(r"\{(.*)\}", operands)
    if operation.startswith("push") or (operation.startswith("stmdb") and operands.startswith("sp!")):
        return 4 * registers(listed[1])
    if operation.startswith("vpush"):
        return (8 if listed[1].startswith("d") else 4) * registers(listed[1])
    down = re.search(r"\[sp, #-(\d+)\]!", operands)
    if down:
        return int(down[1])
    if re.match(r"sub(s|w|\.w)?$", operation) and re.match(r"sp\b", operands):
        amount = re.search(r"#(\d+)$", operands)
        return int(amount[1]) if amount else None
    return 0


def disassemble(image):
    functions, current = {}, None
    for line in run(PREFIX + "objdump", "-d", "-C", "--no-show-raw-insn", image).splitlines():
        head = re.match(r"([0-9a-f]+) <(.*)>:$", line)
        if head:
            current = Function(head[2], int(head[1], 16))
            functions[current.start] = current
            continue
        body = re.match(r"\s+[0-9a-f]+:\s+(\S+)\s*([^;@]*)", line)
        if current and body:
            read_instruction(current, body[1], body[2].strip())
    return functions


def read_instruction(function, operation, operands):
    taken = stack_bytes(operation, operands)
    if taken is None:
        function.variable = True
    function.frame += taken or 0
    jump = re.match(r"(?:r\d+, )?([0-9a-f]+) <(.*)>$", operands)
    if BRANCH.match(operation) and jump:
        # "<name+0x12>" is a jump inside a function.
        if not re.search(r"\+0x[0-9a-f]+$", jump[2]):
            function.calls.add(int(jump[1], 16))
    elif BRANCH.match(operation) and operands != "lr":
        function.indirect = True
    elif operation.startswith("ldr") and operands.startswith("pc,"):
        # "ldr pc, [sp], #n" is a return.
        function.indirect = function.indirect or "[sp]" not in operands


def annotate(functions, file, errors):
    rules = []
    with open(file, encoding="utf-8") as lines:
        for number, line in enumerate(lines, 1):
            line = line.split("#")[0].strip()
            if line and " -> " not in line:
                sys.exit(f"{file}:{number}: expected 'caller regex -> callee regex'")
            if line:
                rules.append([re.compile(side.strip()) for side in line.split(" -> ")])
    for f in functions.values():
        mine = [callee for caller, callee in rules if caller.search(f.name)]
        found = {g.start for g in functions.values() for callee in mine if callee.search(g.name)}
        if f.indirect and not found:
            errors.append(f"{f.name}: an indirect call that {file} does not explain; "
                          "add a line that names what it may reach")
        if f.indirect:
            f.calls |= found


def worst(functions, start, errors):
    """Depth in bytes and the chain of names below a root. Iterative: the images are deep, Python is not."""
    depth, chain, on_path = {}, {}, []
    todo = [(start, False)]
    while todo:
        at, leaving = todo.pop()
        f = functions[at]
        callees = [c for c in f.calls if c in functions and c != at]
        if leaving:
            on_path.pop()
            below = max(callees, key=lambda c: depth.get(c, 0), default=None)
            depth[at] = f.frame + (depth.get(below, 0) if below is not None else 0)
            chain[at] = [at] + (chain.get(below, []) if below is not None else [])
            continue
        if at in depth or at in on_path:
            continue
        if at in f.calls:
            errors.append(f"{f.name}: calls itself")
        if f.variable:
            errors.append(f"{f.name}: moves the stack pointer by a variable amount")
        on_path.append(at)
        todo.append((at, True))
        for c in callees:
            if c in on_path:
                loop = on_path[on_path.index(c):]
                errors.append("recursion: " + " -> ".join(functions[a].name for a in loop + [c]))
            elif c not in depth:
                todo.append((c, False))
    return depth[start], [functions[a] for a in chain[start]]


def main():
    parser = argparse.ArgumentParser(description="worst stack of a firmware image")
    parser.add_argument("image")
    parser.add_argument("annotations")
    parser.add_argument("--above", type=lambda text: int(text, 0), default=0)
    options = parser.parse_args()
    functions = disassemble(options.image)
    symbol = {name: int(value, 16) for value, _, name in
              (line.split() for line in run(PREFIX + "nm", options.image).splitlines() if len(line.split()) == 3)}
    errors = []
    annotate(functions, options.annotations, errors)
    for number, (root, bottom, top, extra) in enumerate(ROOTS):
        start = symbol[root] & ~1
        depth, chain = worst(functions, start, errors)
        if number == 0 and depth < options.above:
            errors.append(f"{root}: computed {depth} bytes, but painting has measured {options.above}: "
                          "this script has missed a call")
        depth += extra
        room = symbol[top] - symbol[bottom]
        print(f"{root}: worst {depth} of {room} bytes")
        for f in chain:
            print(f"  {f.frame:6} {f.name}")
        if depth > room:
            errors.append(f"{root}: {depth} bytes do not fit the stack of {room}; enlarge it in mps2_an386.ld")
    for e in dict.fromkeys(errors):
        print("worst_stack: " + e, file=sys.stderr)
    return 1 if errors else 0


if __name__ == "__main__":
    sys.exit(main())
