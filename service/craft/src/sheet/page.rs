//! A small writer of pages.

use std::fmt::Write;

use etui_schema::vocabulary::Language;

use crate::markup::Escaped;

/// Paper first; a phone gets one column and letters it can read. No line of a
/// list is torn over two sheets, and none stands on one alone.
const STYLE: &str = "\
@page{margin:16mm}\
*{box-sizing:border-box}\
body{font:16px/1.45 'Noto Sans','DejaVu Sans',Verdana,sans-serif;color:#111;background:#fff;\
max-width:46rem;margin:0 auto;padding:1rem}\
h1{font-size:1.45rem;line-height:1.25;margin:.2rem 0 .6rem}\
h2{font-size:1.1rem;margin:1.3rem 0 .4rem;border-bottom:1px solid #777;break-after:avoid}\
p{margin:.4rem 0}\
ul{margin:.3rem 0;padding-left:1.2rem}\
:root{color-scheme:only light}\
li{margin:.35rem 0;break-inside:avoid;overflow-wrap:anywhere}\
li:first-child{break-after:avoid}\
li:last-child{break-before:avoid}\
.box{border:2px solid #111;padding:.5rem .8rem;margin:.8rem 0;break-inside:avoid}\
.said{font-size:1.1rem}\
.day{font-weight:bold}\
.small{color:#444;font-size:.85rem}\
.box,.box+.small{break-after:avoid}\
section{break-inside:avoid-page}\
figure{margin:.8rem 0;break-inside:avoid}\
svg{max-width:100%;height:auto}\
@media print{body{padding:0;font-size:11pt;max-width:none}}";

/// A page under way. Whatever is written into it is escaped.
pub(super) struct Page {
    language: Language,
    title: String,
    body: String,
}

impl Page {
    /// A page with its title as the first heading.
    pub(super) fn new(language: Language, title: &str) -> Self {
        let mut page = Self { language, title: title.to_owned(), body: String::new() };
        page.raw(format_args!("<h1>{}</h1>", Escaped(title)));
        page
    }

    fn raw(&mut self, markup: std::fmt::Arguments<'_>) {
        // Writing to a String cannot fail.
        let _ = self.body.write_fmt(markup);
        self.body.push('\n');
    }

    /// A heading of the second rank.
    pub(super) fn heading(&mut self, text: &str) {
        self.raw(format_args!("<h2>{}</h2>", Escaped(text)));
    }

    /// A paragraph.
    pub(super) fn line(&mut self, text: &str) {
        self.raw(format_args!("<p>{}</p>", Escaped(text)));
    }

    /// A paragraph to be read first, or aloud.
    pub(super) fn said(&mut self, text: &str) {
        self.raw(format_args!(r#"<p class="said">{}</p>"#, Escaped(text)));
    }

    /// A paragraph in a frame.
    pub(super) fn boxed(&mut self, text: &str) {
        self.raw(format_args!(r#"<p class="box">{}</p>"#, Escaped(text)));
    }

    /// A paragraph in small letters.
    pub(super) fn small(&mut self, text: &str) {
        self.raw(format_args!(r#"<p class="small">{}</p>"#, Escaped(text)));
    }

    /// A list: each line with a day, or a word, before it.
    pub(super) fn list(&mut self, rows: impl IntoIterator<Item = (Option<String>, String)>) {
        self.raw(format_args!("<ul>"));
        for (before, text) in rows {
            let text = Escaped(&text);
            match before {
                Some(before) => self.raw(format_args!(
                    r#"<li><span class="day">{}</span> {text}</li>"#,
                    Escaped(&before)
                )),
                None => self.raw(format_args!("<li>{text}</li>")),
            }
        }
        self.raw(format_args!("</ul>"));
    }

    /// A picture of ours, as a part of the page.
    pub(super) fn picture(&mut self, svg: &str) {
        // Within HTML the name of the format is known.
        let svg = svg.replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1);
        self.raw(format_args!("<figure>{svg}</figure>"));
    }

    /// The finished document.
    pub(super) fn finish(self) -> String {
        let Self { language, title, body } = self;
        format!(
            "<!DOCTYPE html>\n<html lang=\"{language}\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <title>{}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n{body}</body>\n</html>\n",
            Escaped(&title)
        )
    }
}
