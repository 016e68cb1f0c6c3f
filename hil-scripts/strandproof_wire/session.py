"""Sessions, tags and pairing digits (SPEC.md 3 to 6), and a small host over any byte stream for scripts."""

import hashlib
import hmac
import struct
import time

from strandproof_wire import frame, messages

TYPES = {
    "Identify": 1, "Identity": 2, "PairRequest": 3, "PairReply": 4, "Sealed": 5, "Reply": 6, "StatusGet": 7,
    "Status": 8, "TelemetrySet": 9, "Telemetry": 10, "LogGet": 11, "LogRecord": 12,
    "TableKeyRequest": 13, "TableKeyReply": 14, "TablesGet": 15, "Tables": 16, "TableRead": 17, "TableBytes": 18,
}  # fmt: skip
NAMES = {number: name for name, number in TYPES.items()}
KINDS = {
    "ClockSet": 32, "TableBegin": 33, "TableChunk": 34, "TableCommit": 35, "PullInstruction": 36, "BedEntry": 37,
    "RecordRelease": 38, "TableWithdraw": 39, "TableUndo": 40,
}  # fmt: skip


OTHER_SESSION, BUSY = 49, 18
LOG_WINDOW = 128  # records that may be on their way


def nonce(secret, boot, session):
    return hmac.new(secret, b"strandproof nonce" + struct.pack("<II", boot, session), hashlib.sha256).digest()[:16]


def pairing_check(key, device, session_nonce):
    digest = hashlib.sha256(key + struct.pack("<I", device) + session_nonce).digest()
    return 100000 + int.from_bytes(digest[:4], "little") % 900000


def fingerprint(table_key):
    return hashlib.sha256(table_key).digest()[:8]


def seal_key(pairing):
    """Of the sealed messages; both ends make it from the key of the pairing."""
    return hmac.new(pairing, b"strandproof seal key", hashlib.sha256).digest()


def tag(key, device, session_nonce, sealed):
    text = b"strandproof sealed" + struct.pack("<I", device) + session_nonce
    text += struct.pack("<IQQI", sealed["counter"], sealed["valid_until_ms"], sealed["host_id"], sealed["kind"])
    return hmac.new(key, text + sealed.get("body", b""), hashlib.sha256).digest()[:16]


class Host:
    """One host at a stream with read(n) and write(bytes), as pyserial has; read must return after a short time."""

    def __init__(self, stream, host_id, key, timeout_s=0.4, attempts=6):
        self.stream, self.host_id, self.key = stream, host_id, key
        self.timeout_s, self.attempts = timeout_s, attempts
        self.decoder = frame.Decoder()
        self.session = self.sequence = self.counter = 0
        self.run = 0  # of the log, modulo 256
        self.identity = {}
        self.known_at = 0.0  # when identity["now_ms"] was read

    def send(self, name, message, payload=None):
        body = messages.encode(name, message) if payload is None else payload
        device = 0 if name == "Identify" else self.identity.get("jack_serial", 0)
        session = 0 if name == "Identify" else self.session
        self.stream.write(frame.encode(frame.Frame(TYPES[name], device, session, self.sequence, body)))
        self.sequence += 1

    def receive(self, seconds):
        """(name, message, frame) of what comes until the time is over."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            for f in self.decoder.feed(self.stream.read(512)):
                if f.type in NAMES:
                    yield NAMES[f.type], messages.decode(NAMES[f.type], f.payload), f

    def ask(self, name, message, wanted, payload=None):
        """Sends until a message named in wanted comes; that one. TimeoutError if none does."""
        for self.asked in range(1, self.attempts + 1):
            self.send(name, message, payload)
            for got, answer, f in self.receive(self.timeout_s):
                if got == "Identity":  # a late one as well: the jack has one session, and this is it
                    self.opened(answer, f)
                if got in wanted and f.session == self.session:
                    return got, answer, f
                if got == "Reply" and answer.get("code") == OTHER_SESSION and payload is None:
                    self.identify()  # a doubled identify has opened another session; a sealed one can not follow
                    break
        raise TimeoutError(f"no answer to {name}: check port and cable")

    def opened(self, answer, f):
        self.identity, self.session, self.counter = answer, f.session, 0
        self.known_at = time.monotonic()

    def identify(self):
        """Asked more than once on a slow machine, the jack answers each time: the last of its sessions counts, and a
        sealed message could not follow a later one."""
        self.ask("Identify", {"protocol_major": 1, "host_id": self.host_id}, ("Identity",))
        missing = self.asked - 1
        for got, answer, f in self.receive(self.timeout_s) if missing else ():
            if got == "Identity":
                self.opened(answer, f)
                missing -= 1
                if missing == 0:
                    break
        return self.identity

    def seal(self, kind, message, valid_ms=5000):
        self.counter += 1
        now_ms = self.identity.get("now_ms", 0) + int((time.monotonic() - self.known_at) * 1000)
        sealed = {
            "counter": self.counter, "valid_until_ms": now_ms + valid_ms, "host_id": self.host_id,
            "kind": KINDS[kind], "body": messages.encode(kind, message),
        }  # fmt: skip
        sealed["tag"] = tag(seal_key(self.key), self.identity["jack_serial"], self.identity["nonce"], sealed)
        return sealed

    def change(self, kind, message):
        """A state-changing message; its Reply."""
        payload = messages.encode("Sealed", self.seal(kind, message))
        return self.ask("Sealed", {}, ("Reply",), payload)[1]

    def fetch(self, first=1):
        """Every record from first to the newest, each once and in order (SPEC.md 6, Log)."""
        wanted, quiet = first, 0
        while quiet < self.attempts:
            self.run, moved_on, quiet = (self.run + 1) % 256, wanted, quiet + 1
            self.send("LogGet", {"from": wanted, "count": LOG_WINDOW, "run": self.run})
            for name, record, _ in self.receive(self.timeout_s):
                if name == "Reply" and record.get("code") in (OTHER_SESSION, BUSY):
                    quiet = 0 if record["code"] == BUSY else quiet
                    if record["code"] == OTHER_SESSION:
                        self.identify()
                    break
                if name != "LogRecord" or record.get("run", 0) != self.run or record.get("from", 0) < wanted:
                    continue
                if record["from"] > wanted:
                    break  # one was lost: back to it, in a new run
                if not record.get("sequence"):
                    return
                quiet, wanted = 0, record["sequence"] + 1
                yield record
                if wanted - moved_on >= LOG_WINDOW // 4:
                    moved_on = wanted
                    self.send("LogGet", {"from": wanted, "count": LOG_WINDOW, "run": self.run})
        raise TimeoutError("the log does not come: check port and cable")
