//! The sign-off sheet: one page to print and file with the job.

use std::fmt::Write as _;

use super::{Table, table};
use crate::compare::Comparison;
use crate::verdict::cautions::CAUTIONS;

const STYLE: &str = "body{font:15px/1.4 sans-serif;max-width:46em;margin:2em auto;padding:0 1em;color:#111}\
table{border-collapse:collapse;width:100%}th,td{border:1px solid #888;padding:.35em .5em;text-align:left;vertical-align:top}\
h1{font-size:1.3em}h2{font-size:1.05em;margin-top:1.6em}.finding{border:2px solid #111;padding:.6em 1em}\
.off{font-weight:bold}.sign td{height:2.6em}small,li{font-size:.9em}";

/// Text made safe inside an element or a quoted attribute.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}

/// Writes the sheet: self-contained, nothing loaded from elsewhere.
#[must_use]
pub fn sign_off(comparison: &Comparison) -> String {
    let engine = &comparison.after.engine;
    let table = table(comparison);
    let mut out = String::from("<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">");
    let _ = writeln!(
        out,
        "<meta name=\"viewport\" content=\"width=device-width\"><title>Cam timing before and after: {}</title><style>{STYLE}</style></head><body>",
        escaped(&engine.name)
    );
    let _ = writeln!(
        out,
        "<h1>Cam timing before and after</h1>\n<p>Engine: {}<br>Before: {}<br>After: {}</p>\n<div class=\"finding\"><strong>{}</strong><br>{}</div>",
        escaped(&engine.name),
        escaped(&table.captures.0),
        escaped(&table.captures.1),
        escaped(table.title),
        escaped(&table.sentence)
    );
    if !comparison.differences.is_empty() {
        out.push_str("<h2>The two captures differ</h2><ul>");
        for difference in &comparison.differences {
            let _ = write!(out, "<li>{}</li>", escaped(difference));
        }
        out.push_str("</ul>\n");
    }
    cams(&mut out, &table);
    compression(&mut out, &table);
    let _ = writeln!(
        out,
        "<h2>Findings</h2><p>Before: {}</p><p>After: {}</p>",
        escaped(&comparison.before.verdict.sentence),
        escaped(&comparison.after.verdict.sentence)
    );
    out.push_str(
        "<h2>Signed off</h2><table class=\"sign\"><tr><th>Vehicle, mileage</th><td></td></tr><tr><th>Work done</th><td></td></tr>\
         <tr><th>Technician, date</th><td></td></tr></table>\n<h2>Cautions</h2><ul>",
    );
    for caution in CAUTIONS {
        let _ = write!(out, "<li>{}</li>", escaped(caution));
    }
    out.push_str("</ul>\n<p><small>Degrees are crank degrees; late means retarded, early advanced. Intervals are 95 %.</small></p>\n</body></html>\n");
    out
}

fn cams(out: &mut String, table: &Table) {
    out.push_str("<h2>Cams</h2><table><tr><th>Cam</th><th>Before</th><th>After</th><th>Moved</th><th>Back in tolerance?</th></tr>");
    for cam in &table.cams {
        let class = if cam.is_back { "" } else { " class=\"off\"" };
        let _ = write!(
            out,
            "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td{class}>{}</td></tr>",
            escaped(&cam.cam),
            escaped(&cam.before),
            escaped(&cam.after),
            escaped(&cam.moved),
            escaped(&cam.back)
        );
    }
    out.push_str("</table>\n");
}

fn compression(out: &mut String, table: &Table) {
    let Some([before, after, words]) = &table.compression else { return };
    let _ = writeln!(
        out,
        "<h2>Compression, bank against bank, relative</h2><p>Before: {}<br>After: {}<br>{}</p>",
        escaped(before),
        escaped(after),
        escaped(words)
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_break_out_of_the_page() {
        let text = escaped("<script>\"x\" & 'y'</script>");
        assert_eq!(text, "&lt;script&gt;&quot;x&quot; &amp; &#39;y&#39;&lt;/script&gt;");
    }
}
