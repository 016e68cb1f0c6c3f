"""Payloads (SPEC.md 2 and 7): messages are dicts; absent fields are left out. Own varints, no generated code."""

from strandproof_wire.frame import Refused

# name -> [(number, kind, field)]; kinds as in SPEC.md 7, a length limit after a colon.
MESSAGES = {
    "Identify": "1 u32 protocol_major|2 u32 protocol_minor|3 u64 host_id",
    "Identity": "1 u32 protocol_major|2 u32 protocol_minor|3 u32 jack_serial|4 u32 origin|5 str:23 build|"
    "6 u32 table_revision|7 u32 settings_revision|8 u32 boot|9 bytes:16 nonce|10 u64 now_ms|11 bool paired|"
    "12 u32 sensor_a_serial|13 u32 sensor_b_serial|14 u32 stroke_sensor_serial|15 u64 first_record|"
    "16 u64 last_record|17 u32 last_counter|18 u32 pulls_left",
    "PairRequest": "1 u64 host_id|2 str:31 host_name|3 bytes:32 key",
    "PairReply": "1 u32 code|2 u32 check|3 bool waiting",
    "Sealed": "1 u32 counter|2 u64 valid_until_ms|3 u64 host_id|4 u32 kind|5 bytes:320 body|6 bytes:16 tag",
    "ClockSet": "1 u64 utc_s",
    "TableBegin": "1 u32 revision|2 u32 length|3 bytes:32 sha256",
    "TableChunk": "1 u32 index|2 bytes:160 data",
    "TableCommit": "1 u32 revision|2 bytes:64 signature",
    "GaugeColumn": "1 rep:24 pressure_mbar|2 rep:24 force_n",
    "GaugeTable": "1 u32 revision|2 u32 jack_serial|3 u32 sensor_a_serial|4 u32 sensor_b_serial|5 u64 calibrated_s|"
    "6 u64 due_s|7 u32 class_tenths|8 u32 uncertainty_ppm|9 GaugeColumn a_increasing|10 GaugeColumn a_decreasing|"
    "11 GaugeColumn b_increasing|12 GaugeColumn b_decreasing|13 u32 origin",
    "PullInstruction": "1 u32 id|2 u32 bed|3 u32 position|4 str:23 bed_name|5 str:23 strand_name|6 u32 reel|"
    "7 u32 jack_serial|8 u32 initial_n|9 u32 seated_n|10 u32 jack_n|11 u32 limit_n|12 u32 stiffness_n_per_m|"
    "13 u32 stiffness_ppm|14 u32 elongation_um|15 u32 elongation_min_um|16 u32 elongation_max_um|17 u32 draw_in_um|"
    "18 u32 draw_in_max_um|19 u32 slack_max_um|20 u32 force_window_ppm",
    "BedEntry": "1 u32 bed|2 u32 position|3 u32 kind|4 str:23 by",
    "RecordRelease": "1 u64 up_to|2 u64 copy|3 str:23 name",
    "TableWithdraw": "1 u32 revision|2 u32 reason",
    "TableUndo": "1 u32 from|2 u32 to",
    "TableKeyRequest": "1 str:15 name|2 bytes:32 key",
    "TableKeyReply": "1 u32 code|2 bool waiting|3 bytes:8 fingerprint",
    "TablesGet": "",
    "TableSlot": "1 u32 revision|2 u32 state|3 bytes:32 sha256|4 u32 length|5 u64 calibrated_s|6 u64 due_s|"
    "7 u32 class_tenths|8 u32 uncertainty_ppm|9 bytes:8 key_fingerprint|10 u32 pulls",
    "TableKeyEntry": "1 str:15 name|2 bytes:8 fingerprint",
    "Tables": "1 TableSlot slot_a|2 TableSlot slot_b|3 u32 active|4 u32 floor|5 u32 withdrawn_reason|"
    "6 u32 voided_part|7 u32 refusal|8 many:TableKeyEntry:4 keys",
    "TableRead": "1 u32 slot|2 u32 index",
    "TableBytes": "1 u32 slot|2 u32 index|3 bytes:160 data|4 bytes:64 signature",
    "Reply": "1 u32 counter|2 u32 code|3 u32 next_chunk",
    "StatusGet": "",
    "Status": "1 u64 now_ms|2 u32 state|3 u32 load_state|4 u32 cause|5 u32 refusal|6 u32 instruction|"
    "7 u32 table_revision|8 u64 utc_s|9 u32 clock_quality|10 u32 frames_bad|11 u32 frames_dropped_bytes|"
    "12 u32 tags_bad|13 u64 last_record|14 lines display|15 u32 link_blocked_ms|16 u32 pulls_left|"
    "17 u32 copies_needed|18 many:LogCopy:4 copies",
    "LogCopy": "1 u64 id|2 str:23 name|3 u64 up_to",
    "TelemetrySet": "1 u32 period_ms",
    "Telemetry": "1 u64 now_ms|2 u32 state|3 u32 load_state|4 u32 cause|5 s32 force_n|6 bool force_valid|"
    "7 s32 pressure_a_mbar|8 s32 pressure_b_mbar|9 s32 elongation_um|10 s32 stroke_um|11 u32 outputs|"
    "12 s32 oil_tenths_degc",
    "LogGet": "1 u64 from|2 u32 count|3 u32 run",
    "LogRecord": "1 u64 sequence|2 u32 boot|3 u64 tick_ms|4 bytes:448 body|5 u64 from|6 u32 run",
    "Record": "1 EventRecord event|2 PullRecord pull|3 Checkpoint checkpoint|4 Snapshot snapshot|5 CurvePart curve|15 bytes:56 seal",
    "Checkpoint": "1 u32 device|2 u32 epoch|3 u64 covers|4 bytes:32 link|5 u64 next_host|6 u64 utc_s|"
    "7 u32 clock_quality|8 bytes:32 public_key|9 bytes:64 signature",
    "EventRecord": "1 u32 code|2 u32 cause|3 u32 state|4 u32 load_state|5 u32 instruction|6 s32 force_n|"
    "7 s32 stroke_um|8 u32 detail|9 u32 limit|10 u32 value|11 u64 utc_s|12 u32 clock_quality",
    "PullRecord": "1 u32 instruction|2 u32 bed|3 u32 position|4 str:23 bed_name|5 str:23 strand_name|6 u32 reel|"
    "7 u32 table_revision|8 u32 settings_revision|9 u32 origin|10 u32 verdict|11 u32 cause|12 u32 load_state|"
    "13 u32 initial_n|14 u32 seated_n|15 u32 jack_n|16 u32 limit_n|17 u32 elongation_plan_um|"
    "18 u32 elongation_min_um|19 u32 elongation_max_um|20 s32 datum_stroke_um|21 s32 datum_n|22 s32 settle_n|"
    "23 s32 peak_n|24 s32 locked_n|25 s32 elongation_um|26 s32 draw_in_um|27 u32 top_ups|"
    "28 s32 stiffness_seen_n_per_m|29 u32 run_on_ms|30 u32 duration_ms|31 u64 utc_s|32 u32 clock_quality|"
    "33 u32 jack_serial|34 u32 uncertainty_ppm|35 u32 force_window_ppm|36 srep:32 curve_um|37 srep:32 curve_n|"
    "38 s32 zero_a_mbar|39 s32 zero_b_mbar|40 s32 settle_a_n|41 s32 settle_b_n|42 u32 curve_points|"
    "43 u32 curve_within_um|44 u32 curve_within_n|45 u32 strokes|46 bytes:42 stroke_rows",
    "Snapshot": "1 u64 trip_ms|2 u32 cause|3 u32 part|4 u32 state|5 bool no_samples|6 u32 since_ms|7 u32 missed|"
    "8 u32 pressure_span_mbar|9 u32 stroke_span_um|10 s32 begin_ms|11 s32 from_ms|12 u32 total|13 bytes:304 rows",
    "CurvePart": "1 u32 instruction|2 u32 first|3 u32 total|4 bytes:360 points",
}


def _fields(text):
    table = []
    for row in filter(None, text.split("|")):
        number, kind, name = row.split()
        table.append((int(number), kind, name))
    return table


FIELDS = {name: _fields(text) for name, text in MESSAGES.items()}
BITS = {"u32": 32, "u64": 64, "s32": 32, "bool": 1}


def varint(value):
    out = bytearray()
    while value > 0x7F:
        out.append(0x80 | (value & 0x7F))
        value >>= 7
    return bytes(out) + bytes([value])


def zigzag(value):
    return value << 1 if value >= 0 else (-value << 1) - 1


def unzigzag(value):
    return (value >> 1) ^ -(value & 1)


def read_varint(data, at, strict):
    value = shift = 0
    while True:
        if at >= len(data) or shift > 63:
            raise Refused("varint cut or too long")
        byte = data[at]
        at += 1
        value |= (byte & 0x7F) << shift
        if not byte & 0x80:
            if value >> 64 or (strict and byte == 0 and shift):
                raise Refused("varint beyond 64 bits or not in its shortest form")
            return value, at
        shift += 7


def _chunk(number, content):
    return varint(number << 3 | 2) + varint(len(content)) + content


def _encode_field(number, kind, value):
    if kind in BITS:
        raw = zigzag(value) if kind == "s32" else int(value)
        return varint(number << 3) + varint(raw) if raw else b""
    if kind == "lines":
        return b"".join(_chunk(number, line.encode("ascii")) for line in value)
    if kind.startswith("many:"):
        return b"".join(_chunk(number, encode(kind.split(":")[1], one)) for one in value)
    if kind in FIELDS:
        return _chunk(number, encode(kind, value))
    if kind.startswith(("rep", "srep")):
        numbers = [zigzag(v) if kind.startswith("s") else v for v in value]
        value = b"".join(varint(v) for v in numbers)
    elif kind.startswith("str"):
        value = value.encode("ascii")
    return _chunk(number, value) if value else b""


def encode(name, message):
    known = {field: (number, kind) for number, kind, field in FIELDS[name]}
    for field in message:
        if field not in known:
            raise ValueError(f"{name} has no field {field}")
    return b"".join(_encode_field(n, k, message[f]) for n, k, f in FIELDS[name] if f in message)


def put_rows(rows):
    """Rows of whole numbers (SPEC.md 12): each column the difference to the row before, modulo 2^32."""
    out, before = bytearray(), None
    for row in rows:
        for value, last in zip(row, before or [0] * len(row)):
            difference = (value - last + 2**31) % 2**32 - 2**31
            out += varint(zigzag(difference))
        before = row
    return bytes(out)


def rows(data, columns):
    out, at, row = [], 0, [0] * columns
    while at < len(data):
        for i in range(columns):
            value, at = read_varint(data, at, True)
            if value >> 32:
                raise Refused("number beyond 32 bits")
            row[i] = (row[i] + unzigzag(value) + 2**31) % 2**32 - 2**31
        out.append(list(row))
    return out


def _decode_content(kind, content, strict):
    if kind in FIELDS:
        return decode(kind, content, strict)
    base, _, limit = kind.partition(":")
    if base == "many":
        return decode(limit.split(":")[0], content, strict)
    if base in ("rep", "srep"):
        numbers, at = [], 0
        while at < len(content):
            value, at = read_varint(content, at, strict)
            numbers.append(unzigzag(value) if base == "srep" else value)
        if len(numbers) > int(limit):
            raise Refused("too many numbers")
        return numbers
    if limit and len(content) > int(limit):
        raise Refused("too long")
    if base == "bytes":
        return content
    if any(not 0x20 <= byte <= 0x7E for byte in content):
        raise Refused("not printable ASCII")
    return content.decode("ascii")


def decode(name, data, strict=False):
    """strict: the form that SPEC.md 2 demands where something is changed."""
    known = {number: (kind, field) for number, kind, field in FIELDS[name]}
    message, at, last = {}, 0, 0
    while at < len(data):
        key, at = read_varint(data, at, strict)
        number, wire = key >> 3, key & 7
        kind, field = known.get(number, (None, None))
        if strict and (kind is None or number <= last):
            raise Refused("field unknown, doubled or out of order")
        last = number
        if wire not in (0, 2):
            raise Refused("wire type")
        value, at = read_varint(data, at, strict)
        if wire == 2:
            if value > len(data) - at:
                raise Refused("content cut")
            value, at = data[at : at + value], at + value
        if kind is None:
            continue
        if (wire == 0) != (kind in BITS):
            raise Refused("wire type")
        if wire == 2:
            value = _decode_content(kind, value, strict)
        elif value >> BITS[kind]:
            raise Refused("number beyond its range")
        elif kind == "s32":
            value = unzigzag(value)
        if kind == "lines" or kind.startswith("many:"):
            message.setdefault(field, []).append(value)
        else:
            message[field] = bool(value) if kind == "bool" else value
    return message
