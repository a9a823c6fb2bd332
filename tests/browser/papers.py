"""The report and the sheets on paper: pages, and sizes of text, over the eight cases of cases.py.

    tests/browser/papers.py PROGRAM [FOLDER]

tries them alone and keeps the printed pages in FOLDER. run.py calls it with the rest.
"""

import base64, os, re, sys, tempfile

sys.dont_write_bytecode = True

import cases

from driver import Browser, SIZES, expect, keep, no_overflow

# The least text on paper, in points: what a reader of 50 reads without glasses (judgement).
LEAST_TEXT_PT = 7.0
PAPERS = {"a4": (21.0, 29.7), "letter": (21.59, 27.94)}
# Between the margins of 12 mm at the sides.
MARGINS_CM = 2.4


def pages(pdf):
    return len(re.findall(rb"/Type\s*/Page\b", base64.b64decode(pdf)))


def printed(browser, paper):
    width, height = PAPERS[paper]
    return browser.call("POST", "/print", {"page": {"width": width, "height": height}, "background": True})


def front(browser, paper):
    """Printed: the pages in front of the annex, which is taken out for it and put back. The first of them is a page of its own."""
    browser.run("const e = document.querySelector('section.annex'); window.annexAt = e.parentNode; window.annex = e; e.remove()")
    count = pages(printed(browser, paper))
    browser.run("window.annexAt.append(window.annex)")
    return count


# Pixels to points: 72 to the inch instead of 96. Only what is shown on paper.
ON_PAPER = """
    const shown = (e) => { for (let at = e; at && at !== document.body; at = at.parentElement) if (getComputedStyle(at).display === 'none') return false; return true; };
    const least = (list) => list.reduce((one, other) => (other[0] < one[0] ? other : one), [99, '']);
    const own = (e) => [...e.childNodes].some((one) => one.nodeType === 3 && one.data.trim());
    const texts = [...document.querySelectorAll('body *')].filter((e) => !e.closest('svg, script, style') && own(e) && shown(e));
    const drawn = [...document.querySelectorAll('svg text')].filter(shown);
    const size = (e, scale) => [parseFloat(getComputedStyle(e).fontSize) * scale * 72 / 96, e.textContent.slice(0, 40)];
    const right = document.body.getBoundingClientRect().right + 1;
    // Letters of another font may be a little wider than those that the picture reckoned with.
    const out = (e) => { const box = e.ownerSVGElement.getBoundingClientRect(), text = e.getBoundingClientRect(); return text.left < box.left - 2 || text.right > box.right + 2 || text.bottom > box.bottom + 2; };
    return {
      page: least(texts.map((e) => size(e, 1))),
      pictures: least(drawn.map((e) => size(e, e.getScreenCTM().a))),
      count: drawn.length,
      outside: [...texts.filter((e) => e.getBoundingClientRect().right > right), ...drawn.filter(out)].map((e) => e.textContent.slice(0, 40)),
    };
"""


def on_paper(browser, paper):
    """The smallest texts, and what stands outside its page or its picture, as paper of that width shows it."""
    width = round((PAPERS[paper][0] - MARGINS_CM) / 2.54 * 96)
    browser.shape(width, 1000)
    bar = browser.run("return innerWidth - document.documentElement.clientWidth")
    browser.shape(width + bar, 1000)
    browser.cdp("Emulation.setEmulatedMedia", media="print")
    found = browser.run(ON_PAPER)
    browser.cdp("Emulation.setEmulatedMedia", media="")
    browser.shape()
    return found


def legible(name, paper, found):
    least = min(found["page"], found["pictures"])
    expect(least[0] >= LEAST_TEXT_PT and not found["outside"],
           f"{name}, {paper}: {found['count']} texts of pictures and all others have {LEAST_TEXT_PT} pt or more, least {least[0]:.2f} ({least[1]}); none outside {found['outside'][:3]}")


def one(browser, name, path, folder):
    browser.size(*SIZES["phone"])
    browser.go("file://" + path)
    no_overflow(browser, f"{name}, on a telephone")
    browser.size(*SIZES["desktop"])
    sheet = browser.run("return !document.querySelector('section.annex')")
    parts = browser.run("return document.querySelectorAll('.sheet').length")
    for paper in PAPERS:
        legible(name, paper, on_paper(browser, paper))
        whole = printed(browser, paper)
        keep(folder, f"{name.replace(' ', '-')}-{paper}.pdf", whole)
        if sheet:
            expect(pages(whole) == 1, f"{name}: the sheet is one page of {paper} ({pages(whole)})")
            continue
        count = front(browser, paper)
        # A report of compression alone may fill less than a page.
        expect(count == parts or name == "compression only" and count < parts, f"{name}: {parts} pages of {paper} in front of the annex ({count})")
        # Four cams: recording and first pictures, wheels, compression and drive, the close-up, the teeth and room for photographs.
        expect(pages(whole) - count <= 6, f"{name}: and an annex of six at most ({pages(whole) - count})")


def papers(browser, program, work, folder):
    for name, path in cases.make(program, work):
        one(browser, name, path, folder)


if __name__ == "__main__":
    folder = sys.argv[2] if len(sys.argv) > 2 else None
    if folder:
        os.makedirs(folder, exist_ok=True)
    browser = Browser()
    try:
        with tempfile.TemporaryDirectory() as work:
            papers(browser, os.path.abspath(sys.argv[1]), work, folder)
    finally:
        browser.close()
