"""Reading of SVG pictures."""

from xml.etree import ElementTree


def texts(svg):
    found = [element.text or "" for element in ElementTree.fromstring(svg).iter()]
    return [text for text in found if text.strip()]
