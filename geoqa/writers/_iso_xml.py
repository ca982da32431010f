"""Elements of the ISO metadata schemas, and how they are filled."""

import re

from lxml import etree

MDQ = "http://standards.iso.org/iso/19157/-2/mdq/1.0"
XSI = "http://www.w3.org/2001/XMLSchema-instance"
XLINK = "http://www.w3.org/1999/xlink"
_ISO_19115_3 = "http://standards.iso.org/iso/19115/-3"
NAMESPACES = {
    "mdq": MDQ,
    "mcc": f"{_ISO_19115_3}/mcc/1.0",
    "cit": f"{_ISO_19115_3}/cit/2.0",
    "gco": f"{_ISO_19115_3}/gco/1.0",
    "xsi": XSI,
    "xlink": XLINK,
}
SCOPES = "http://standards.iso.org/iso/19115/resources/Codelists/cat/codelists.xml#MD_ScopeCode"
# Only these code points may stand in XML 1.0 (W3C, Extensible Markup Language 1.0, production 2).
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def inside(parent: etree._Element, *names: str) -> etree._Element:
    """Return the last of these elements, each made inside the one before it."""
    known = {**NAMESPACES, **{key: uri for key, uri in parent.nsmap.items() if key}}
    for name in names:
        prefix, local = name.split(":")
        parent = etree.SubElement(parent, f"{{{known[prefix]}}}{local}")
    return parent


def text(parent: etree._Element, words: str) -> None:
    """Fill an element with words; what XML cannot hold becomes the replacement character."""
    inside(parent, "gco:CharacterString").text = _NOT_XML.sub("\ufffd", words)


def code(element: etree._Element, codes: str, value: str) -> None:
    """Fill an element with a value of a code list."""
    element.set("codeList", codes)
    element.set("codeListValue", value)
