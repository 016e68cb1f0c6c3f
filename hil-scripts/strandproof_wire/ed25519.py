"""Ed25519 of RFC 8032, section 5.1, on Python's own numbers: for tests and scripts, slow and not constant in time."""

import hashlib

P = 2**255 - 19
ORDER = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, -1, P) % P
ROOT = pow(2, (P - 1) // 4, P)


def _add(a, b):
    (x1, y1, z1, t1), (x2, y2, z2, t2) = a, b
    left, right = (y1 - x1) * (y2 - x2) % P, (y1 + x1) * (y2 + x2) % P
    c, d = 2 * D * t1 * t2 % P, 2 * z1 * z2 % P
    e, f, g, h = right - left, d - c, d + c, right + left
    return e * f % P, g * h % P, f * g % P, e * h % P


def _times(n, point):
    out = (0, 1, 1, 0)
    while n:
        if n & 1:
            out = _add(out, point)
        point = _add(point, point)
        n >>= 1
    return out


def _x_of(y, odd):
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * ROOT % P
    if (x * x - square) % P or (x == 0 and odd):
        return None
    return P - x if x & 1 != odd else x


_Y = 4 * pow(5, -1, P) % P
_X = _x_of(_Y, 0)
BASE = (_X, _Y, 1, _X * _Y % P)


def _encode(point):
    x, y, z, _ = point
    inverse = pow(z, -1, P)
    x, y = x * inverse % P, y * inverse % P
    return (y | (x & 1) << 255).to_bytes(32, "little")


def _decode(data):
    number = int.from_bytes(data, "little")
    y, odd = number & (2**255 - 1), number >> 255
    x = _x_of(y, odd) if y < P else None
    return None if x is None else (x, y, 1, x * y % P)


def _hash(*parts):
    return int.from_bytes(hashlib.sha512(b"".join(parts)).digest(), "little") % ORDER


def _expand(seed):
    digest = hashlib.sha512(seed).digest()
    return int.from_bytes(digest[:32], "little") & (2**254 - 8) | 2**254, digest[32:]


def public_key(seed):
    return _encode(_times(_expand(seed)[0], BASE))


def sign(seed, message):
    scalar, prefix = _expand(seed)
    public = _encode(_times(scalar, BASE))
    r = _hash(prefix, message)
    point = _encode(_times(r, BASE))
    return point + ((r + _hash(point, public, message) * scalar) % ORDER).to_bytes(32, "little")


def verify(public, message, signature):
    key, point = _decode(public), _decode(signature[:32])
    s = int.from_bytes(signature[32:], "little")
    if key is None or point is None or s >= ORDER:
        return False
    return _encode(_times(s, BASE)) == _encode(_add(point, _times(_hash(signature[:32], public, message), key)))
