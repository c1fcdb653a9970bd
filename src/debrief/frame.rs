//! The frame of every page that is written: policy, style, the disclaimer above and below.

use super::TRAINING_ONLY;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The policy of a page that fetches nothing and runs nothing.
pub const SCRIPTLESS: &str =
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";

/// What differs from page to page.
pub struct Frame<'a> {
    /// Its title.
    pub title: &'a str,
    /// Its content security policy.
    pub policy: &'a str,
    /// Its style sheet.
    pub style: &'a str,
    /// What is said after the disclaimer above; may be empty.
    pub warning: &'a str,
    /// A script of its own at the end, which the policy must know.
    pub script: Option<&'a str>,
}

impl Frame<'_> {
    /// The whole page.
    pub fn page(&self, head: Markup, main: Markup) -> String {
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta http-equiv="Content-Security-Policy" content=(self.policy);
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    title { (self.title) }
                    style { (PreEscaped(self.style)) }
                }
                body {
                    header { p.warn { (TRAINING_ONLY) (self.warning) } (head) }
                    main { (main) }
                    footer { p { (TRAINING_ONLY) } }
                    @if let Some(script) = self.script { script { (PreEscaped(script)) } }
                }
            }
        };
        page.into_string()
    }
}
