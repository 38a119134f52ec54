//! Text in markup: SVG pictures and printed pages.

use std::fmt::Write;

/// Text between tags or in an attribute: `& < > " '` escaped, characters that XML 1.0 does not
/// allow left out.
pub(crate) struct Escaped<'a>(pub(crate) &'a str);

impl std::fmt::Display for Escaped<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for c in allowed(self.0) {
            match c {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                c => f.write_char(c)?,
            }
        }
        Ok(())
    }
}

/// What of a text is written into markup.
pub(crate) fn allowed(text: &str) -> impl Iterator<Item = char> {
    text.chars().filter(|c| is_xml(*c))
}

/// The characters of XML 1.0 (fifth edition, production 2), without the line
/// breaks and tabs that a label never needs.
const fn is_xml(c: char) -> bool {
    matches!(c, ' '..='\u{D7FF}' | '\u{E000}'..='\u{FFFD}' | '\u{10000}'..='\u{10FFFF}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_escaped_and_freed_of_what_xml_forbids() {
        let raw = "a<b>&\"c'\u{0}\u{8}\u{FFFE}\n\u{1F600}";
        assert_eq!(Escaped(raw).to_string(), "a&lt;b&gt;&amp;&quot;c&#39;\u{1F600}");
    }
}
