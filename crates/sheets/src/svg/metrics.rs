//! Advance widths of the embedded typeface, so that labels can be placed without a browser.

/// Weight of the typeface.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// 400, for reading.
    Regular,
    /// 600, for names.
    SemiBold,
    /// 700, for headings.
    Bold,
}

/// Font units to the em.
const UNITS: f64 = 2000.0;

/// Width of a character outside the table, a little more than the widest common letter, font units.
const UNKNOWN: u16 = 1400;

/// Advances of U+0020 to U+007E at weight 400, font units.
#[rustfmt::skip]
const REGULAR: [u16; 95] = [
    470, 546, 806, 1366, 1176, 1740, 1354, 428, 686, 686, 1066, 1290, 450, 798, 450, 980,
    1284, 746, 1224, 1204, 1242, 1242, 1194, 1044, 1222, 1194, 450, 450, 1290, 1290, 1290, 1028,
    1618, 1358, 1312, 1294, 1364, 1198, 1124, 1376, 1400, 566, 1092, 1320, 1118, 1608, 1416, 1460,
    1260, 1460, 1330, 1198, 1166, 1378, 1304, 1680, 1206, 1282, 1300, 752, 980, 752, 1290, 980,
    736, 1052, 1124, 1000, 1124, 1076, 666, 1126, 1126, 508, 508, 1062, 524, 1694, 1126, 1116,
    1130, 1126, 778, 938, 756, 1126, 1024, 1430, 1034, 1058, 1010, 744, 544, 744, 1290,
];

/// Advances of U+0020 to U+007E at weight 600, font units.
#[rustfmt::skip]
const SEMI_BOLD: [u16; 95] = [
    490, 582, 859, 1392, 1197, 1715, 1399, 470, 725, 725, 1092, 1278, 482, 819, 474, 1023,
    1305, 782, 1223, 1201, 1271, 1228, 1217, 1063, 1246, 1217, 474, 474, 1278, 1278, 1278, 1023,
    1652, 1408, 1358, 1283, 1402, 1232, 1141, 1367, 1428, 583, 1107, 1384, 1128, 1615, 1430, 1450,
    1271, 1450, 1363, 1217, 1192, 1408, 1344, 1690, 1306, 1339, 1286, 774, 1023, 774, 1278, 988,
    866, 1094, 1144, 1055, 1144, 1102, 704, 1145, 1164, 546, 546, 1100, 562, 1732, 1164, 1127,
    1148, 1145, 815, 969, 775, 1164, 1085, 1474, 1114, 1110, 1061, 759, 582, 759, 1278,
];

/// Advances of U+0020 to U+007E at weight 700, font units.
#[rustfmt::skip]
const BOLD: [u16; 95] = [
    500, 600, 885, 1404, 1207, 1703, 1421, 490, 745, 745, 1104, 1272, 498, 829, 486, 1045,
    1315, 800, 1223, 1199, 1285, 1222, 1229, 1073, 1258, 1229, 486, 486, 1272, 1272, 1272, 1021,
    1668, 1434, 1380, 1277, 1420, 1248, 1149, 1363, 1442, 591, 1115, 1416, 1132, 1619, 1436, 1444,
    1277, 1446, 1379, 1227, 1204, 1424, 1364, 1696, 1356, 1367, 1278, 786, 1045, 786, 1272, 992,
    932, 1114, 1154, 1083, 1154, 1114, 724, 1155, 1184, 566, 566, 1118, 582, 1752, 1184, 1133,
    1156, 1155, 833, 985, 785, 1184, 1115, 1496, 1154, 1136, 1087, 767, 602, 767, 1272,
];

/// Returns the width of a text set in the embedded typeface at `size`, without kerning, in the unit of `size`.
///
/// Characters outside basic Latin count with a width that common ones do not exceed, so labels get room enough.
pub fn text_width(text: &str, size: f64, weight: Weight) -> f64 {
    let table = match weight {
        Weight::Regular => &REGULAR,
        Weight::SemiBold => &SEMI_BOLD,
        Weight::Bold => &BOLD,
    };
    let units: u32 = text.chars().map(|c| u32::from(advance(c, table))).sum();
    f64::from(units) / UNITS * size
}

fn advance(c: char, table: &[u16; 95]) -> u16 {
    match c {
        '\u{200b}' => 0,
        '²' | '³' | '¹' | '₂' => 750,
        '°' => 830,
        '·' | '′' => 490,
        '″' => 760,
        'ä' | 'à' | 'á' | 'â' | 'é' | 'è' | 'ê' | 'ö' | 'ó' | 'ô' | 'ü' | 'ú' => 1190,
        _ => {
            let index = u32::from(c).wrapping_sub(32) as usize;
            table.get(index).copied().unwrap_or(UNKNOWN)
        }
    }
}

/// Returns as much of a text as fits into `width`, with an ellipsis where something was left out.
///
/// Nothing is lost by it on a page: the whole text stands in the list beside the drawing.
pub fn fit(text: &str, width: f64, size: f64, weight: Weight) -> String {
    if text_width(text, size, weight) <= width {
        return text.to_owned();
    }
    let room = width - text_width("…", size, weight);
    let mut kept = String::new();
    let mut used = 0.0;
    for c in text.chars() {
        let mut buffer = [0_u8; 4];
        used += text_width(c.encode_utf8(&mut buffer), size, weight);
        if used > room {
            break;
        }
        kept.push(c);
    }
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_follow_the_table() {
        // "in": 508 + 1126 of 2000 units to the em.
        assert!((text_width("in", 20.0, Weight::Regular) - 16.34).abs() < 1e-9);
        assert!(text_width("in", 20.0, Weight::Bold) > text_width("in", 20.0, Weight::Regular));
    }

    #[test]
    fn fitted_text_fits() {
        for width in [0.0, 10.0, 40.0, 80.0, 400.0] {
            let cut = fit("Percussion and instrument store", width, 14.0, Weight::SemiBold);
            assert!(cut == "…" || text_width(&cut, 14.0, Weight::SemiBold) <= width, "{cut} in {width}");
        }
    }
}
