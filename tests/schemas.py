"""Holds XML to published schemas, with a program that was not written here (xmllint), which runs
in the Node.js that Playwright brings along."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

from playwright._impl._driver import compute_driver_executable

from tests.fetched import needed
from tests.players import SCORM_SCHEMAS, XMLLINT

# The namespaces of each version's manifest and the files that describe them.
SCORM = {
    "1.2": (
        "scorm12edition",
        {
            "http://www.imsproject.org/xsd/imscp_rootv1p1p2": "imscp_rootv1p1p2.xsd",
            "http://www.adlnet.org/xsd/adlcp_rootv1p2": "adlcp_rootv1p2.xsd",
        },
    ),
    "2004": (
        "scorm20044thedition",
        {
            "http://www.imsglobal.org/xsd/imscp_v1p1": "imscp_v1p1.xsd",
            "http://www.adlnet.org/xsd/adlcp_v1p3": "adlcp_v1p3.xsd",
            "http://www.adlnet.org/xsd/adlseq_v1p3": "adlseq_v1p3.xsd",
            "http://www.adlnet.org/xsd/adlnav_v1p3": "adlnav_v1p3.xsd",
            "http://www.imsglobal.org/xsd/imsss": "imsss_v1p0.xsd",
        },
    ),
}
_SCRIPT = """
const { validateXML } = require(process.argv[1]);
const given = JSON.parse(require("fs").readFileSync(0, "utf8"));
validateXML(given).then(({ errors }) => {
  console.log(JSON.stringify(errors.map((each) => each.message)));
});
"""


def scorm_problems(manifest: str, version: str) -> list[str]:
    """What is wrong with a manifest by the schemas of a SCORM version."""
    name, namespaces = SCORM[version]
    folder = needed(SCORM_SCHEMAS) / "lib" / "schemas" / "definitionFiles" / name
    imports = "".join(
        f'<xs:import namespace="{each}" schemaLocation="{file}"/>'
        for each, file in namespaces.items()
    )
    whole = f'<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema">{imports}</xs:schema>'
    return problems(manifest, whole, [*folder.glob("*.xsd"), *folder.glob("*.dtd")])


def problems(document: str, schema: str, beside: list[Path]) -> list[str]:
    """What is wrong with a document by a schema, which may take in the files beside it."""
    node, _ = compute_driver_executable()
    files = [{"fileName": each.name, "contents": each.read_text("utf-8")} for each in beside]
    given = {
        "xml": [{"fileName": "document.xml", "contents": document}],
        "schema": [{"fileName": "whole.xsd", "contents": schema}],
        "preload": files,
    }
    done = subprocess.run(
        [node, "-e", _SCRIPT, str(needed(XMLLINT) / "index-node.js")],
        input=json.dumps(given),
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    found: list[str] = json.loads(done.stdout)
    return found
