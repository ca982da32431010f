"""The published schemas of ISO 19115-3 and ISO 19157-2, where a package that ships them is installed.

They come with `ckanext-iso19115` (installed apart, without its dependencies: README, "Run the tests"). The
schema of W3C XLink is not among them: of it only the attributes that the ISO schemas name stand here.
"""

import importlib.util
from functools import cache
from pathlib import Path

import pytest
from lxml import etree

_XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns="http://www.w3.org/1999/xlink"
    targetNamespace="http://www.w3.org/1999/xlink">
  <xs:attribute name="type" type="xs:string"/>
  <xs:attribute name="href" type="xs:anyURI"/>
  <xs:attribute name="role" type="xs:anyURI"/>
  <xs:attribute name="arcrole" type="xs:anyURI"/>
  <xs:attribute name="title" type="xs:string"/>
  <xs:attribute name="show" type="xs:string"/>
  <xs:attribute name="actuate" type="xs:string"/>
  <xs:attributeGroup name="simpleAttrs">
    <xs:attribute ref="type" fixed="simple"/><xs:attribute ref="href"/><xs:attribute ref="role"/>
    <xs:attribute ref="arcrole"/><xs:attribute ref="title"/><xs:attribute ref="show"/>
    <xs:attribute ref="actuate"/>
  </xs:attributeGroup>
</xs:schema>"""
_HOSTS = {
    "standards.iso.org/iso/": "",
    "schemas.opengis.net/": "schemas.opengis.net/",
}


def folder():
    """Return the folder of the schemas; the test is skipped where they are not installed."""
    found = importlib.util.find_spec("ckanext")
    for place in found.submodule_search_locations if found else ():
        schemas = Path(place) / "iso19115" / "namespaces"
        if schemas.is_dir():
            return schemas
    pytest.skip("the ISO schemas are not installed")
    return None


class _Local(etree.Resolver):
    """Answers every address from the installed files, so that nothing is fetched."""

    def resolve(self, system_url, public_id, context):
        if system_url.endswith(("xlink.xsd", "xlinks.xsd")) or "/xlink/" in system_url:
            return self.resolve_string(_XLINK, context)
        for host, below in _HOSTS.items():
            if f"://{host}" in system_url:
                return self.resolve_filename(str(folder() / below / system_url.split(host)[1]), context)
        return None


@cache
def schema():
    """Return one schema that knows both documents: the record and the quality report alone."""
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Local())
    imports = {
        "http://standards.iso.org/iso/19115/-3/mdb/2.0": "19115/-3/mdb/2.0/mdb.xsd",
        "http://standards.iso.org/iso/19157/-2/mdq/1.0": "19157/-2/mdq/1.0/mdq.xsd",
    }
    lines = [
        f'<xs:import namespace="{space}" schemaLocation="{(folder() / path).as_uri()}"/>'
        for space, path in imports.items()
    ]
    root = f'<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema">{"".join(lines)}</xs:schema>'
    return etree.XMLSchema(etree.fromstring(root, parser))


def mistakes(document):
    """Return what is wrong with a document, as text or bytes, one sentence a mistake."""
    checked = schema()
    root = etree.fromstring(document if isinstance(document, bytes) else document.encode())
    checked.validate(root)
    return [f"line {entry.line}: {entry.message}" for entry in checked.error_log]
