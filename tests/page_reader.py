"""Reads a page of HTML as a browser and a screen reader would, for the tests of every page."""

import re
from html.parser import HTMLParser
from itertools import pairwise
from urllib.parse import unquote

LARGEST = 300_000
"""A few hundred kilobytes at most [bytes]."""

VOID = {"meta", "link", "img", "source", "br"}


class Reader(HTMLParser):
    """Reads a page as a browser and a screen reader would: structure, ids, addresses, tables and words."""

    def __init__(self, text):
        super().__init__()
        self.open, self.ids, self.addresses, self.headings, self.pictures = [], [], [], [], []
        self.tables, self.words, self.tags, self.attributes, self.labelled = [], [], set(), [], []
        self.feed(text)
        self.close()
        assert not self.open, f"never closed: {self.open}"

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        self.tags.add(tag)
        self.attributes += attrs
        if tag not in VOID and tag not in ("path", "rect"):
            self.open.append(tag)
        if "id" in attrs:
            self.ids.append(attrs["id"])
        self.labelled += [attrs[k] for k in ("aria-labelledby",) if k in attrs]
        self.addresses += [attrs[k] for k in ("src", "href", "srcset") if k in attrs]
        self.addresses += re.findall(r"url\(([^)]*)\)", attrs.get("style") or "")
        if re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag == "img":
            self.pictures.append(attrs)
        if tag == "table":
            self.tables.append({"caption": "", "scopes": [], "rows": [], "head": 0})
        if tag == "th":
            self.tables[-1]["scopes"].append(attrs.get("scope"))
            self.tables[-1]["head"] += "thead" in self.open
        if tag == "tr":
            self.tables[-1]["rows"].append(0)
        if tag in ("td", "th"):
            self.tables[-1]["rows"][-1] += int(attrs.get("colspan", 1))

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if self.open and self.open[-1] == tag:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag, f"</{tag}> crosses another tag"

    def handle_data(self, data):
        if "style" in self.open:
            self.addresses += re.findall(r"url\(([^)]*)\)|@import\s+([^;]*)", data)
            return
        if "caption" in self.open:
            self.tables[-1]["caption"] += data
        self.words.append(data)

    @property
    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.words).replace("\xa0", " "))


def svgs(page):
    return [unquote(address) for address in re.findall(r'"data:image/svg\+xml,([^"]*)"', page)]


def check_page(page):
    """Hold a page to what every page is: alone, well built, readable aloud; returns its reader."""
    reader = Reader(page)
    assert len(page.encode()) < LARGEST
    assert reader.addresses
    assert all(a.startswith(("#", "data:")) for a in reader.addresses), [a[:60] for a in reader.addresses]
    assert not {"script", "iframe", "object", "embed", "form", "base"} & reader.tags
    assert not [a for a in reader.attributes if a.startswith("on")]
    for svg in svgs(page):
        assert not re.findall(r"""(?:href|src)=["'](?!#)[^"']*""", svg)
        assert not re.findall(r"url\((?!#)", svg)
    assert len(reader.ids) == len(set(reader.ids))
    inner = [a[1:] for a in reader.addresses if a.startswith("#")] + reader.labelled
    assert inner
    assert set(inner) <= set(reader.ids)
    assert reader.headings[0] == 1
    assert reader.headings.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(reader.headings))
    for table in reader.tables:
        assert table["caption"].strip()
        assert set(table["scopes"]) <= {"col", "row", "rowgroup"}
        assert table["head"] == table["scopes"].count("col") >= 2
        assert "row" in table["scopes"]
        assert len(set(table["rows"])) == 1, "a row has another number of cells"
    assert all(len(p["alt"]) > 40 for p in reader.pictures)
    assert '<html lang="en">' in page
    assert '<meta name="viewport" content="width=device-width, initial-scale=1">' in page
    assert page.lstrip().startswith("<!DOCTYPE html>")
    return reader
