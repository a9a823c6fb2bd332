"""Whether everybody reaches everything: widths, the dark scheme, what pictures say, the keyboard, and the rules of axe-core."""

import sys
import time

from driver import SIZES, expect, expect_quietly, keep

# Widths of a telephone, a tablet and a desk.
WIDTHS = ("phone", "tablet", "desktop")


def everything_open(browser):
    browser.run("for (const one of document.querySelectorAll('details')) one.open = true")


def cut_off(browser):
    """What runs out of its box or of the screen at the side: the page, tables, and every text that is seen."""
    return browser.run("""
        const out = [];
        const over = document.documentElement.scrollWidth - innerWidth;
        if (over > 0) out.push('the page by ' + over + ' px');
        for (const box of document.querySelectorAll('.wide, dialog[open], section, figure, pre')) {
          const more = box.scrollWidth - box.clientWidth;
          if (box.clientWidth && more > 1 && getComputedStyle(box).overflowX !== 'visible') out.push((box.id || box.className || box.tagName) + ' by ' + more + ' px');
        }
        const root = document.querySelector('dialog[open]') || document.body;
        for (const one of root.querySelectorAll('td, th, p, li, label, button, a, h1, h2, h3, input, select')) {
          const box = one.getBoundingClientRect();
          if (!box.width || one.closest('.unseen, [hidden]') || one.type === 'file') continue;
          if (box.left < -1 || box.right > innerWidth + 1) out.push(one.tagName + ' ' + (one.textContent || one.id).slice(0, 30));
        }
        return [...new Set(out)].slice(0, 8);
    """)


def overlapping(browser):
    """Controls that lie over one another."""
    return browser.run("""
        const root = document.querySelector('dialog[open]') || document.body;
        const seen = [...root.querySelectorAll('button, select, a.button, input:not([type=file]):not([type=checkbox]), textarea')]
          .map((one) => [one, one.getBoundingClientRect()]).filter(([one, box]) => box.width > 1 && box.height > 1 && !one.closest('[hidden]'));
        const out = [];
        seen.forEach(([a, p], at) => seen.slice(at + 1).forEach(([b, q]) => {
          const wide = Math.min(p.right, q.right) - Math.max(p.left, q.left), high = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
          if (wide > 1 && high > 1 && !a.contains(b) && !b.contains(a)) out.push((a.id || a.textContent) + ' over ' + (b.id || b.textContent));
        }));
        return out.slice(0, 5);
    """)


def axe(browser, source, what):
    """No rule of axe-core is broken, best practices among them."""
    if not source:
        return
    # A frame of the page that is sealed cannot be looked into from it; what is in it is looked at by itself.
    found = browser.run(source + """
        ;return axe.run(document, { iframes: false, resultTypes: ['violations'] }).then((result) => result.violations.map((one) =>
          one.id + ' (' + one.impact + '): ' + one.nodes.slice(0, 3).map((node) => node.target.join(' ') + ' ' + (node.any[0] || node.all[0] || node.none[0] || { message: '' }).message).join('; ')));
    """)
    expect(not found, f"{what}: axe-core finds nothing {found}")


def looks(browser, source, folder, name):
    """One sight at every width, in both schemes."""
    for width in WIDTHS:
        browser.shape(*SIZES[width])
        for scheme in ("light", "dark"):
            browser.scheme(scheme)
            if folder:
                high = browser.run("return Math.min(6000, Math.max(document.documentElement.scrollHeight, innerHeight))")
                browser.shape(SIZES[width][0], high)
                keep(folder, f"{name}-{width}-{scheme}.png", browser.call("GET", "/screenshot"))
                browser.shape(*SIZES[width])
            if (width, scheme) in (("desktop", "light"), ("phone", "dark")):
                axe(browser, source, f"{name}, {width}, {scheme}")
        out, over = cut_off(browser), overlapping(browser)
        # The signals take their new width a tenth of a second after the window has it.
        begun = time.time()
        while (out or over) and time.time() - begun < 3:
            time.sleep(0.1)
            out, over = cut_off(browser), overlapping(browser)
        expect(not out and not over, f"{name}, {SIZES[width][0]} px: nothing is cut off, nothing lies over another {out} {over}")
    browser.scheme("light")
    browser.shape()


def dark(browser):
    browser.scheme("dark")
    ink, paper = browser.run("const s = getComputedStyle(document.body); return [s.color, s.backgroundColor].map((one) => one.match(/\\d+/g).slice(0, 3).reduce((sum, part) => sum + +part, 0))")
    browser.scheme("light")
    expect(ink > 500 and paper < 150, f"the dark scheme is dark: ink {ink}, paper {paper}")


def pictures_speak(browser, what):
    """Every picture has an alternative that says what it shows."""
    silent = browser.run("""
        const said = (one) => (one.getAttribute('aria-label') || one.getAttribute('alt') || one.getAttribute('title') || (one.getAttribute('aria-labelledby') || '').split(' ').map((id) => (document.getElementById(id) || {}).textContent || '').join(' ') || (one.querySelector(':scope > title') || {}).textContent || '').trim();
        const all = [...document.querySelectorAll('svg, img, canvas, iframe')].filter((one) => one.getBoundingClientRect().width && !one.closest('[aria-hidden=true], svg svg')).map((one) => one.closest('[role=img][aria-label], [role=application][aria-label]') || one);
        return [all.length, all.filter((one) => said(one).split(/\\s+/).length < 2 && one.tagName !== 'IFRAME' || !said(one)).map((one) => one.outerHTML.slice(0, 90))];
    """)
    expect(silent[0] > 0 and not silent[1], f"{what}: {silent[0]} pictures say what they show {silent[1][:3]}")


def all_by_keys(browser):
    """The Tab key comes to every control that is seen, in the order of the page, and out at its end."""
    wanted = browser.run("""
        let number = 0;
        const all = [...document.querySelectorAll('button, select, input, textarea, a[href], summary, [tabindex="0"], iframe')]
          .filter((one) => !one.disabled && one.getBoundingClientRect().width && !one.closest('dialog, [hidden]') && getComputedStyle(one).visibility !== 'hidden');
        all.forEach((one) => { one.dataset.stop = number++; });
        document.activeElement.blur();
        scrollTo(0, 0);
        return all.map((one) => one.id || one.textContent.trim().slice(0, 20) || one.tagName);
    """)
    browser.click("h1")
    stops = []
    # What is within the report takes its own stops, and the page is passed by once after them.
    for _ in range(len(wanted) + 60):
        browser.press("\ue004")
        stop, seen = browser.run("""
            const e = document.activeElement, s = getComputedStyle(e), label = e.closest('label');
            const ring = (one) => one && getComputedStyle(one).outlineStyle !== 'none';
            return [e === document.body || !e.dataset.stop ? -1 : +e.dataset.stop, e === document.body || e.tagName === 'IFRAME' || ring(e) || ring(label)];
        """)
        if len(stops) > 1 and stop == stops[0]:
            break
        expect_quietly(seen, f"where the keyboard stands is seen at {wanted[stop]}")
        if stop >= 0 and stop not in stops[-1:]:
            stops.append(stop)
    missed = [wanted[at] for at in range(len(wanted)) if at not in stops]
    expect(not missed, f"the Tab key comes to every one of {len(wanted)} controls {missed}")
    expect(stops == sorted(stops), "in the order of the page")


def form_open(browser):
    browser.click("#form-open")
    browser.wait("the form", "return document.getElementById('form').open && document.querySelector('#form-cams .drawing svg')")


def reach(browser, page, plan, sheet, axe_file, folder):
    """The page with everything on it, its form, the report, the sheet to sign and the hook-up sheet."""
    source = None
    if axe_file:
        with open(axe_file, encoding="utf-8") as file:
            source = file.read()
    else:
        print("axe-core is not there: its rules were NOT tried", file=sys.stderr)
    browser.go(f"http://{page.host}/")
    browser.wait("the page", "return document.documentElement.dataset.begun")
    dark(browser)
    browser.click("#demonstration [data-file='bank2-late.csv']")
    browser.wait("the button", "return !document.getElementById('run').disabled")
    everything_open(browser)
    # With a report on it, which is read from the session.
    browser.run("document.querySelector('#list tbody tr[data-state=jumped] button').click()")
    browser.wait("the report", "return document.getElementById('finding').dataset.state")
    browser.click("#compare-go")
    browser.wait("the comparison", "return document.querySelector('#compared [data-outcome]')")
    everything_open(browser)
    pictures_speak(browser, "the page")
    looks(browser, source, folder, "page")
    all_by_keys(browser)
    report = browser.run("return document.getElementById('report').getAttribute('src')")
    form_open(browser)
    pictures_speak(browser, "the form")
    looks(browser, source, folder, "form")
    browser.press("\ue00c")
    expect(not browser.run("return document.getElementById('form').open"), "the Escape key leaves the form")
    browser.go(f"http://{page.host}{report}")
    pictures_speak(browser, "the report")
    looks(browser, source, folder, "report")
    for name, address in (("sign-off", sheet), ("hook-up", plan)):
        browser.go(address)
        looks(browser, source, folder, name)
