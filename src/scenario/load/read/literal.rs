//! What a text and a number say once their quotes, escapes and underscores are resolved.

/// The words inside quotes, escapes resolved; or the byte of a backslash that starts no escape.
pub(super) fn unquote(quoted: &str) -> Result<String, usize> {
    if let Some(raw) = quoted.strip_prefix('r') {
        let hashes = raw.len() - raw.trim_start_matches('#').len();
        return Ok(raw.get(hashes + 1..raw.len().saturating_sub(hashes + 1)).unwrap_or_default().to_owned());
    }
    let inside = quoted.get(1..quoted.len().saturating_sub(1)).unwrap_or_default();
    if !inside.contains('\\') {
        return Ok(inside.to_owned());
    }
    let mut out = String::with_capacity(inside.len());
    let mut rest = inside;
    while let Some(at) = rest.find('\\') {
        out.push_str(&rest[..at]);
        let escape = &rest[at..];
        let (c, used) = match escape.as_bytes().get(1) {
            Some(b'n') => (Some('\n'), 2),
            Some(b't') => (Some('\t'), 2),
            Some(b'r') => (Some('\r'), 2),
            Some(b'0') => (Some('\0'), 2),
            Some(b'\\') => (Some('\\'), 2),
            Some(b'"') => (Some('"'), 2),
            Some(b'\'') => (Some('\''), 2),
            Some(b'x') => (escape.get(2..4).and_then(hex), 4),
            Some(b'u') => {
                let end = escape.find('}').unwrap_or(0);
                (escape.get(2..end).and_then(|s| s.strip_prefix('{')).and_then(hex), end + 1)
            }
            _ => (None, 2),
        };
        let Some(c) = c else {
            return Err(1 + inside.len() - rest.len() + at);
        };
        out.push(c);
        rest = escape.get(used..).unwrap_or_default();
    }
    out.push_str(rest);
    Ok(out)
}

/// A number without the underscores between its digits; one in another place stays, and spoils it.
pub(super) fn without_underscores(number: &str) -> String {
    let bytes = number.as_bytes();
    let digit = |at: Option<usize>| at.and_then(|at| bytes.get(at)).is_some_and(u8::is_ascii_digit);
    number
        .char_indices()
        .filter(|&(i, c)| c != '_' || !(digit(i.checked_sub(1)) && digit(Some(i + 1))))
        .map(|(_, c)| c)
        .collect()
}

fn hex(digits: &str) -> Option<char> {
    let plain = digits.bytes().all(|b| b.is_ascii_hexdigit());
    u32::from_str_radix(digits, 16).ok().filter(|_| plain).and_then(char::from_u32)
}
