//! What kind of file came in, what a camera noted in it, and a copy that is safe to show.

use super::LogError;
use ::image::metadata::Orientation;
use ::image::{DynamicImage, ImageDecoder as _, ImageReader, Limits, codecs::jpeg::JpegEncoder};
use building::records::Location;
use std::io::Cursor;
use std::sync::Mutex;

/// Longer side of a safe copy, pixels: fills a tablet, shows a tape's edge.
pub const LARGEST_COPY_PX: u32 = 1600;
/// Longest side that is decoded, pixels.
const LONGEST_SIDE_PX: u32 = 16_384;
/// Most memory a decoder may take, bytes: 64 million pixels of three bytes, and room to work.
const MOST_MEMORY_BYTES: u64 = 256 << 20;
/// Quality of the copy's encoding, of 100.
const QUALITY: u8 = 82;

/// What some bytes are, by their beginning; names and claims are not believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Sniffed {
    /// JPEG picture.
    Jpeg,
    /// PNG picture.
    Png,
    /// A picture that is kept but cannot be shown here.
    OtherPicture(&'static str),
    /// PDF.
    Pdf,
    /// UTF-8 text without control signs: logger files, lists.
    Text,
    /// Anything else.
    Other,
}

impl Sniffed {
    /// Returns the media type.
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
            Self::OtherPicture(media_type) => media_type,
            Self::Pdf => "application/pdf",
            Self::Text => "text/plain",
            Self::Other => "application/octet-stream",
        }
    }

    /// Says whether it is a picture, shown or not: its original may say where it was taken.
    pub fn is_picture(self) -> bool {
        matches!(self, Self::Jpeg | Self::Png | Self::OtherPicture(_))
    }
}

/// Says what some bytes are.
pub fn sniff(bytes: &[u8]) -> Sniffed {
    let brand = bytes.get(4..12).unwrap_or_default();
    match bytes {
        [0xff, 0xd8, 0xff, ..] => Sniffed::Jpeg,
        [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => Sniffed::Png,
        [b'G', b'I', b'F', b'8', ..] => Sniffed::OtherPicture("image/gif"),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => {
            Sniffed::OtherPicture("image/webp")
        }
        [b'I', b'I', b'*', 0, ..] | [b'M', b'M', 0, b'*', ..] => Sniffed::OtherPicture("image/tiff"),
        _ if matches!(brand, b"ftypheic" | b"ftypheix" | b"ftypmif1" | b"ftypmsf1") => {
            Sniffed::OtherPicture("image/heic")
        }
        _ if matches!(brand, b"ftypavif" | b"ftypavis") => Sniffed::OtherPicture("image/avif"),
        [b'%', b'P', b'D', b'F', b'-', ..] => Sniffed::Pdf,
        _ if is_text(bytes) => Sniffed::Text,
        _ => Sniffed::Other,
    }
}

fn is_text(bytes: &[u8]) -> bool {
    let allowed = |c: char| !c.is_control() || matches!(c, '\n' | '\r' | '\t');
    std::str::from_utf8(bytes).is_ok_and(|text| text.chars().all(allowed))
}

/// What a camera noted.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Facts {
    /// When, as RFC 3339; without offset when the camera did not say one.
    pub taken: Option<String>,
    /// Orientation, 1 to 8.
    pub orientation: Option<u8>,
    /// Where.
    pub location: Option<Location>,
}

/// Reads what a camera noted; the place only when it was chosen to keep it. Spoiled notes are no notes.
pub(super) fn facts(bytes: &[u8], sniffed: Sniffed, keep_location: bool) -> Facts {
    if !sniffed.is_picture() {
        return Facts::default();
    }
    let Ok(notes) = exif::Reader::new().read_from_container(&mut Cursor::new(bytes)) else {
        return Facts::default();
    };
    let field = |tag| notes.get_field(tag, exif::In::PRIMARY);
    let orientation = field(exif::Tag::Orientation)
        .and_then(|f| f.value.get_uint(0))
        .and_then(|v| u8::try_from(v).ok())
        .filter(|v| (1..=8).contains(v));
    let location = if keep_location { location(&notes) } else { None };
    Facts { taken: taken(&notes), orientation, location }
}

fn ascii(notes: &exif::Exif, tag: exif::Tag) -> Option<String> {
    match &notes.get_field(tag, exif::In::PRIMARY)?.value {
        exif::Value::Ascii(texts) => String::from_utf8(texts.first()?.clone()).ok(),
        _ => None,
    }
}

/// Writes `2025:09:03 08:30:00` and `-05:00` as `2025-09-03T08:30:00-05:00`.
fn taken(notes: &exif::Exif) -> Option<String> {
    let text = ascii(notes, exif::Tag::DateTimeOriginal)?;
    let at = exif::DateTime::from_ascii(text.as_bytes()).ok()?;
    let civil = jiff::civil::DateTime::new(
        i16::try_from(at.year).ok()?,
        i8::try_from(at.month).ok()?,
        i8::try_from(at.day).ok()?,
        i8::try_from(at.hour).ok()?,
        i8::try_from(at.minute).ok()?,
        i8::try_from(at.second).ok()?,
        0,
    )
    .ok()?;
    let offset = ascii(notes, exif::Tag::OffsetTimeOriginal).unwrap_or_default();
    let with_offset = format!("{civil}{offset}");
    let known = !offset.is_empty() && with_offset.parse::<jiff::Timestamp>().is_ok();
    Some(if known { with_offset } else { civil.to_string() })
}

fn location(notes: &exif::Exif) -> Option<Location> {
    let degrees = |tag, reference, negative: &str| {
        let exif::Value::Rational(parts) = &notes.get_field(tag, exif::In::PRIMARY)?.value else {
            return None;
        };
        let [degrees, minutes, seconds, ..] = parts.as_slice() else { return None };
        let value = degrees.to_f64() + minutes.to_f64() / 60.0 + seconds.to_f64() / 3600.0;
        let sign = if ascii(notes, reference)?.trim() == negative { -1.0 } else { 1.0 };
        (value.is_finite() && value <= 180.0).then_some(sign * value)
    };
    Some(Location {
        latitude_deg: degrees(exif::Tag::GPSLatitude, exif::Tag::GPSLatitudeRef, "S")?,
        longitude_deg: degrees(exif::Tag::GPSLongitude, exif::Tag::GPSLongitudeRef, "W")?,
    })
}

/// One picture at a time: a handful of large ones at once would fill a small machine's memory.
static DECODING: Mutex<()> = Mutex::new(());

/// Makes an upright JPEG of at most [`LARGEST_COPY_PX`], from pixels alone: nothing else of the original gets in.
///
/// The same bytes give the same copy.
pub(super) fn safe_copy(bytes: &[u8]) -> Result<Vec<u8>, LogError> {
    let no = |reason: String| LogError::NoCopy { reason };
    if !matches!(sniff(bytes), Sniffed::Jpeg | Sniffed::Png) {
        return Err(no(format!("{} is not shown here", sniff(bytes).media_type())));
    }
    // A poisoned lock guards nothing that could be half done.
    let _one = DECODING.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let picture = decode(bytes).map_err(no)?;
    let small = if picture.width().max(picture.height()) > LARGEST_COPY_PX {
        picture.thumbnail(LARGEST_COPY_PX, LARGEST_COPY_PX)
    } else {
        picture
    };
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, QUALITY)
        .encode_image(&small.into_rgb8())
        .map_err(|e| no(e.to_string()))?;
    Ok(out)
}

/// Says whether bytes from elsewhere may stand as a safe copy: a JPEG within the limits, without a camera's notes.
pub(super) fn is_safe_copy(bytes: &[u8]) -> bool {
    let bare = exif::Reader::new().read_from_container(&mut Cursor::new(bytes)).is_err();
    let _one = DECODING.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let small = |p: DynamicImage| p.width().max(p.height()) <= LARGEST_COPY_PX;
    sniff(bytes) == Sniffed::Jpeg && bare && decode(bytes).is_ok_and(small)
}

fn decode(bytes: &[u8]) -> Result<DynamicImage, String> {
    let mut reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|e| e.to_string())?;
    let mut limits = Limits::default();
    limits.max_image_width = Some(LONGEST_SIDE_PX);
    limits.max_image_height = Some(LONGEST_SIDE_PX);
    limits.max_alloc = Some(MOST_MEMORY_BYTES);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(|e| e.to_string())?;
    if decoder.total_bytes() > MOST_MEMORY_BYTES {
        let (width, height) = decoder.dimensions();
        return Err(format!("it unfolds to {width} × {height} pixels, more than is decoded here"));
    }
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let mut picture = DynamicImage::from_decoder(decoder).map_err(|e| e.to_string())?;
    picture.apply_orientation(orientation);
    Ok(picture)
}
