#!/usr/bin/python3
"""Worst stack of a firmware image, from its own machine code.

Every function's frame is the sum of all that its code takes off the stack pointer (conservative: paths
that exclude each other are added up), and a tail call counts as a call. Library functions are measured
like our own. Refused: recursion without a stated bound, a stack pointer moved by a variable amount, and an
indirect call that no line of the annotation file explains. A switch's jump table is not a call.

usage: worst_stack.py IMAGE.elf ANNOTATIONS [--above BYTES]
  ANNOTATIONS  over demangled names, # starts a comment:
               caller regex -> callee regex    what an indirect call may reach; at least one function
               caller regex -> none            it is never made
               caller regex ->? callee regex   as ->, where the image may have no such function
               regex recurses N                every function of that loop of calls is on the stack N times at most
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
    tables: list = field(default_factory=list)  # the first word behind each jump through a table


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
    """Functions by address; a jump table's first word is kept until the function's end is known."""
    functions, current, table = {}, None, False
    for line in run(PREFIX + "objdump", "-d", "-C", "--no-show-raw-insn", image).splitlines():
        head = re.match(r"([0-9a-f]+) <(.*)>:$", line)
        if head:
            current = Function(head[2], int(head[1], 16))
            functions[current.start] = current
        body = re.match(r"\s+[0-9a-f]+:\s+(\S+)\s*([^;@]*)", line)
        if current and body and not (table and body[1] == "nop"):  # the table is aligned
            if table:
                current.tables.append(int(body[2], 16) if body[1] == ".word" else 0)
            table = read_instruction(current, body[1], body[2].strip())
    mark_false_tables(functions)
    return functions


def mark_false_tables(functions):
    """A table whose first word does not lead back into its own function is a call through a pointer."""
    starts = sorted(functions)
    for start, end in zip(starts, starts[1:] + [starts[-1] + 0x10000]):
        f = functions[start]
        f.indirect = f.indirect or any(not start <= word < end for word in f.tables)


def read_instruction(function, operation, operands):
    """Adds one instruction to what is known of its function. True if a jump table must follow."""
    taken = stack_bytes(operation, operands)
    function.variable = function.variable or taken is None
    function.frame += taken or 0
    if operation.startswith("ldr") and operands.startswith("pc,"):
        if "lsl #2" in operands:
            return True
        function.indirect = function.indirect or "[sp]" not in operands  # "ldr pc, [sp], #n" returns
    if BRANCH.match(operation):
        read_branch(function, operation, operands)
    return False


def read_branch(function, operation, operands):
    jump = re.match(r"(?:r\d+, )?([0-9a-f]+) <(.*)>$", operands)
    if not jump:
        function.indirect = function.indirect or operands != "lr"
        return
    target = int(jump[1], 16)
    inside = re.search(r"\+0x[0-9a-f]+$", jump[2]) or (target == function.start and not operation.startswith("bl"))
    if not inside:
        function.calls.add(target)


def read_annotations(file):
    calls, loops = [], []
    with open(file, encoding="utf-8") as lines:
        for number, line in enumerate(lines, 1):
            line = line.split("#")[0].strip()
            call = re.match(r"(.*) (->\??) (.*)$", line)
            loop = re.match(r"(.*) recurses (\d+)$", line)
            if call:
                calls.append((re.compile(call[1].strip()), call[2], re.compile(call[3].strip())))
            elif loop:
                loops.append((re.compile(loop[1].strip()), int(loop[2])))
            elif line:
                sys.exit(f"{file}:{number}: expected 'caller -> callee' or 'regex recurses N'")
    return calls, loops


def annotate(functions, calls, errors):
    for f in functions.values():
        if not f.indirect:
            continue
        mine = [(arrow, callee) for caller, arrow, callee in calls if caller.search(f.name)]
        found = {g.start for g in functions.values() for _, callee in mine if callee.search(g.name)}
        if not found and not any(arrow == "->?" or callee.pattern == "none" for arrow, callee in mine):
            errors.append(f"{f.name}: an indirect call that no annotation explains; add a line that names what it may "
                          "reach")
        f.calls |= found


def loops_of(functions):
    """Strongly connected groups of calls, callees first (Tarjan, without recursion of our own)."""
    index, low, stack, groups = {}, {}, [], []
    for root in functions:
        if root in index:
            continue
        work = [(root, iter(sorted(functions[root].calls & functions.keys())))]
        index[root] = low[root] = len(index)
        stack.append(root)
        while work:
            at, callees = work[-1]
            new = next((c for c in callees if c not in index or c in stack), None)
            if new is not None and new not in index:
                index[new] = low[new] = len(index)
                stack.append(new)
                work.append((new, iter(sorted(functions[new].calls & functions.keys()))))
            elif new is not None:
                low[at] = min(low[at], index[new])
            else:
                work.pop()
                if work:
                    low[work[-1][0]] = min(low[work[-1][0]], low[at])
                if low[at] == index[at]:
                    groups.append([stack.pop() for _ in range(len(stack) - stack.index(at))])
    return groups


def group_frame(functions, group, loops, errors):
    frame = sum(functions[a].frame for a in group)
    if len(group) == 1 and group[0] not in functions[group[0]].calls:
        return frame
    names = [functions[a].name for a in group]
    for pattern, times in loops:
        if all(pattern.search(n) for n in names):
            return frame * times
    errors.append("recursion: " + ", ".join(sorted(names)))
    return frame


def reachable(functions, start):
    seen, todo = set(), [start]
    while todo:
        at = todo.pop()
        if at not in seen:
            seen.add(at)
            todo += functions[at].calls & functions.keys()
    return {a: functions[a] for a in seen}


def worst(functions, start, annotations, errors):
    """Depth in bytes and the (bytes, name) chain below a root."""
    functions = reachable(functions, start)
    errors += [f"{f.name}: moves the stack pointer by a variable amount" for f in functions.values() if f.variable]
    depth, chain = {}, {}
    for group in loops_of(functions):
        outside = set().union(*(functions[a].calls for a in group)) & functions.keys() - set(group)
        below = max(outside, key=lambda c: depth[c], default=None)
        frame = group_frame(functions, group, annotations, errors)
        for a in group:
            depth[a] = frame + (depth[below] if below is not None else 0)
            chain[a] = [(frame, " + ".join(functions[m].name for m in group))] + (chain[below] if below is not None else [])
    return depth[start], chain[start]


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
    calls, loops = read_annotations(options.annotations)
    annotate(functions, calls, errors)
    for number, (root, bottom, top, extra) in enumerate(ROOTS):
        start = symbol[root] & ~1
        depth, chain = worst(functions, start, loops, errors)
        if number == 0 and depth < options.above:
            errors.append(f"{root}: computed {depth} bytes, but painting has measured {options.above}: "
                          "this script has missed a call")
        depth += extra
        room = symbol[top] - symbol[bottom]
        print(f"{root}: worst {depth} of {room} bytes")
        for frame, name in chain:
            print(f"  {frame:6} {name}")
        if depth > room:
            errors.append(f"{root}: {depth} bytes do not fit the stack of {room}; enlarge it in mps2_an386.ld")
    for e in dict.fromkeys(errors):
        print("worst_stack: " + e, file=sys.stderr)
    return 1 if errors else 0


if __name__ == "__main__":
    sys.exit(main())
