"""A small picture, and how a browser sends one."""

import base64
import io

from PIL import Image


def picture():
    out = io.BytesIO()
    Image.effect_noise((40, 30), 50).save(out, "PNG")
    return out.getvalue()


def sent(content, kind="image/png"):
    return f"data:{kind};base64," + base64.b64encode(content).decode()
