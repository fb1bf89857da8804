//! The embedded typeface: Overpass, Latin subset, under the SIL Open Font License (see `assets/NOTICE.md`).

use std::sync::OnceLock;

const FILES: [(u16, &[u8]); 3] = [
    (400, include_bytes!("../../assets/overpass-latin-400-normal.woff2")),
    (600, include_bytes!("../../assets/overpass-latin-600-normal.woff2")),
    (700, include_bytes!("../../assets/overpass-latin-700-normal.woff2")),
];

/// Characters taken from the files: all but the middle dot, which these files set on top of the letter before it
/// (`W/(m²·K)` loses its dot); the reader's own typeface draws that one.
const RANGE: &str = "U+0-B6,U+B8-FFFF";

/// Returns the `@font-face` rules with the files inside them.
pub fn faces() -> &'static str {
    static FACES: OnceLock<String> = OnceLock::new();
    FACES.get_or_init(|| {
        FILES
            .iter()
            .map(|(weight, file)| {
                format!(
                    "@font-face{{font-family:Overpass;font-weight:{weight};font-display:block;\
                     unicode-range:{RANGE};\
                     src:url(data:font/woff2;base64,{}) format('woff2')}}",
                    base64(file)
                )
            })
            .collect()
    })
}

/// Base64 with padding (RFC 4648, clause 4).
fn base64(bytes: &[u8]) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let word =
            chunk.iter().fold(0_u32, |word, byte| word << 8 | u32::from(*byte)) << (8 * (3 - chunk.len()));
        for place in 0..4 {
            let sextet = (word >> (18 - 6 * place) & 63) as usize;
            out.push(if place <= chunk.len() { char::from(ALPHABET[sextet]) } else { '=' });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The test vectors of RFC 4648, clause 10.
    #[test]
    fn base64_agrees_with_the_rfc() {
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn all_three_weights_are_inside() {
        assert_eq!(faces().matches("@font-face").count(), 3);
        assert!(faces().contains("base64,d09GMg"), "woff2 files begin with wOF2");
    }
}
