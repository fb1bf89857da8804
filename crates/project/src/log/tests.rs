//! The log in one process: keeping, refusing, sharing, handing on, older stores.

use super::*;
use building::records::{Body, Note};
use rusqlite::Connection;
use std::io::Cursor;

struct Site {
    dir: tempfile::TempDir,
    folder: Folder,
}

fn site() -> Site {
    let dir = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(dir.path().join("building.toml"), "").expect("written");
    let folder = Folder::open(dir.path()).expect("opened");
    Site { dir, folder }
}

fn note(id: &str, text: &str) -> Record {
    Record::new(id, "2025-09-03T08:30:00-05:00", Body::Note(Note { text: text.to_owned() }))
}

fn picture(width: u32, height: u32) -> Vec<u8> {
    let mut pixels = ::image::RgbImage::new(width, height);
    for (x, y, pixel) in pixels.enumerate_pixels_mut() {
        *pixel = ::image::Rgb([(x % 251) as u8, (y % 241) as u8, 90]);
    }
    let mut out = Vec::new();
    pixels.write_to(&mut Cursor::new(&mut out), ::image::ImageFormat::Jpeg).expect("encoded");
    out
}

/// Puts a camera's notes into a JPEG: turned by 90°, taken when, where.
fn with_notes(jpeg: &[u8]) -> Vec<u8> {
    use exif::{Field, In, Rational, Tag, Value, experimental::Writer};
    let ascii = |text: &str| Value::Ascii(vec![text.as_bytes().to_vec()]);
    let rational = |a, b, c| Value::Rational([a, b, c].map(|num| Rational { num, denom: 1 }).to_vec());
    let fields = [
        (Tag::Orientation, Value::Short(vec![6])),
        (Tag::DateTimeOriginal, ascii("2025:08:19 13:02:11")),
        (Tag::OffsetTimeOriginal, ascii("-05:00")),
        (Tag::GPSLatitudeRef, ascii("N")),
        (Tag::GPSLatitude, rational(36, 6, 0)),
        (Tag::GPSLongitudeRef, ascii("W")),
        (Tag::GPSLongitude, rational(79, 30, 0)),
    ]
    .map(|(tag, value)| Field { tag, ifd_num: In::PRIMARY, value });
    let mut writer = Writer::new();
    fields.iter().for_each(|f| writer.push_field(f));
    let mut notes = Cursor::new(Vec::new());
    writer.write(&mut notes, false).expect("written");
    let body = [b"Exif\0\0".as_slice(), &notes.into_inner()].concat();
    let length = u16::try_from(body.len() + 2).expect("short").to_be_bytes();
    [&jpeg[..2], &[0xff, 0xe1], &length, &body, &jpeg[2..]].concat()
}

fn incoming(bytes: Vec<u8>) -> Incoming {
    Incoming { bytes, file_name: "C:\\phone\\IMG_1.jpg".to_owned(), ..Incoming::default() }
}

#[test]
fn a_retry_is_harmless_and_other_content_stands_beside() {
    let site = site();
    let log = Log::open(&site.folder).expect("opened");
    let first = log.append(note("a", "tape is dry"), Vec::new()).expect("kept");
    assert_eq!((first.number, &first.outcome), (1, &Outcome::Kept));
    assert!(first.record.head.server_time.is_some());
    let again = log.append(note("a", "tape is dry"), Vec::new()).expect("kept");
    assert_eq!((again.number, &again.hash, &again.outcome), (1, &first.hash, &Outcome::AlreadyThere));
    let other = log.append(note("a", "tape is wet"), Vec::new()).expect("kept");
    assert_eq!(other.outcome, Outcome::BesideOthers { numbers: vec![1] });
    let retried = log.append(note("a", "tape is wet"), Vec::new()).expect("kept");
    assert_eq!((retried.number, retried.outcome), (2, Outcome::AlreadyThere));
    let both = log.show("a").expect("read");
    assert_eq!(both.len(), 2);
    assert!(both.iter().all(|e| e.disputed));
    assert_eq!(both[1].record.head.previous, both[0].hash);
}

#[test]
fn nothing_is_changed_or_removed() {
    let site = site();
    let log = Log::open(&site.folder).expect("opened");
    log.append(note("a", "x"), vec![incoming(picture(8, 8))]).expect("kept");
    drop(log);
    let db = Connection::open(site.dir.path().join(STORE)).expect("opened");
    for change in [
        "UPDATE records SET line = 'x'",
        "DELETE FROM records",
        "DELETE FROM attachments",
        "UPDATE attachments SET seq = 2",
    ] {
        let refused = db.execute(change, []).expect_err("refused").to_string();
        assert!(refused.contains("append-only"), "{change}: {refused}");
    }
}

#[test]
fn a_changed_line_breaks_the_chain() {
    let site = site();
    let log = Log::open(&site.folder).expect("opened");
    for id in ["a", "b", "c"] {
        log.append(note(id, "x"), Vec::new()).expect("kept");
    }
    assert_eq!(log.verify().expect("read"), Verdict { records: 3, ..Verdict::default() });
    drop(log);
    let db = Connection::open(site.dir.path().join(STORE)).expect("opened");
    db.execute_batch(
        "DROP TRIGGER records_stay; UPDATE records SET line = replace(line, 'x', 'y') WHERE seq = 2",
    )
    .expect("meddled");
    drop(db);
    let verdict = verify(site.folder.root()).expect("read");
    assert_eq!(verdict.wrong, ["record 2 is not what it was when it was kept"]);
}

#[test]
fn a_photo_is_kept_untouched_and_shown_safely() {
    let site = site();
    let log = Log::open(&site.folder).expect("opened");
    let photo = with_notes(&picture(2400, 60));
    let ack = log.append(note("a", "sill"), vec![incoming(photo.clone())]).expect("kept");
    let named = &ack.record.head.attachments[0];
    assert_eq!(named.taken.as_deref(), Some("2025-08-19T13:02:11-05:00"));
    assert_eq!((named.orientation, named.location), (Some(6), None), "the place only by choice");
    assert_eq!((named.file_name.as_str(), named.media_type.as_str()), ("IMG_1.jpg", "image/jpeg"));
    let original = site.dir.path().join("log/originals").join(&named.sha256);
    assert_eq!(std::fs::read(original).expect("there"), photo);
    let copy = log.safe_copy(&named.sha256).expect("a copy");
    let shown = ::image::load_from_memory(&copy).expect("a picture");
    assert_eq!((shown.width(), shown.height()), (40, 1600), "upright, and no longer than {LARGEST_COPY_PX}");
    assert!(exif::Reader::new().read_from_container(&mut Cursor::new(&copy)).is_err(), "no notes in it");
    assert!(log.file(&named.sha256).is_err(), "the original is not handed out");
    let with_place = Incoming { keep_location: true, ..incoming(photo) };
    let place = log.keep(&with_place).expect("kept").location.expect("a place");
    assert!((place.latitude_deg - 36.1).abs() < 1e-9 && (place.longitude_deg + 79.5).abs() < 1e-9);
}

#[test]
fn what_is_no_harmless_picture_is_kept_but_not_shown() {
    let site = site();
    let log = Log::open(&site.folder).expect("opened");
    // A PNG header that claims 60 000 × 60 000 pixels, and one within the sides but beyond the memory.
    for (width, height) in [(60_000_u32, 60_000_u32), (16_000, 16_000)] {
        let mut bomb = Vec::new();
        picture_png(&mut bomb, width, height);
        let sha256 = log.keep(&incoming(bomb)).expect("kept").sha256;
        assert!(matches!(log.safe_copy(&sha256), Err(LogError::NoCopy { .. })), "{width} × {height}");
    }
    let page = b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>".to_vec();
    let kept = log.keep(&incoming(page)).expect("kept");
    assert_eq!(kept.media_type, "text/plain");
    assert!(log.safe_copy(&kept.sha256).is_err());
    let torn = picture(64, 64)[..300].to_vec();
    let kept = log.keep(&incoming(torn)).expect("kept");
    assert!(log.safe_copy(&kept.sha256).is_err());
    assert!(matches!(log.keep(&incoming(Vec::new())), Err(LogError::Attachment { .. })));
    assert!(log.safe_copy("../../building.toml").is_err());
}

/// Writes the beginning of a PNG of that size, with a body that does not matter.
fn picture_png(out: &mut Vec<u8>, width: u32, height: u32) {
    let one = ::image::RgbImage::new(1, 1);
    one.write_to(&mut Cursor::new(&mut *out), ::image::ImageFormat::Png).expect("encoded");
    out[16..20].copy_from_slice(&width.to_be_bytes());
    out[20..24].copy_from_slice(&height.to_be_bytes());
    let sum = crc(&out[12..29]).to_be_bytes();
    out[29..33].copy_from_slice(&sum);
}

/// The check sum of PNG chunks (ISO 3309).
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |sum, b| {
        (0..8).fold(sum ^ u32::from(*b), |s, _| if s & 1 == 1 { 0xedb8_8320 ^ (s >> 1) } else { s >> 1 })
    })
}

#[test]
fn what_cannot_be_placed_is_refused_with_reasons() {
    let site = site();
    let log = Log::open(&site.folder).expect("opened");
    for id in ["", "../a", "a b", &"a".repeat(65)] {
        assert!(matches!(log.append(note(id, "x"), Vec::new()), Err(LogError::Record(_))), "{id:?}");
    }
    let mut timeless = note("a", "x");
    timeless.head.client_time = "yesterday".to_owned();
    assert!(log.append(timeless, Vec::new()).expect_err("refused").to_string().contains("such as"));
    assert!(
        log.append(note("a", &"x".repeat(2 << 20)), Vec::new())
            .expect_err("refused")
            .to_string()
            .contains("attach")
    );
    let mut empty_handed = note("a", "x");
    empty_handed.head.attachments.push(Attachment { sha256: "0".repeat(64), ..Attachment::default() });
    assert!(matches!(log.append(empty_handed, Vec::new()), Err(LogError::NoOriginal { .. })));
    assert!(log.list().expect("read").entries.is_empty());
}

#[test]
fn many_hands_at_once_lose_nothing() {
    let site = site();
    let logs = [Log::open(&site.folder).expect("opened"), Log::open(&site.folder).expect("opened")];
    std::thread::scope(|scope| {
        for hand in 0..8_usize {
            let log = logs[hand % 2].clone();
            scope.spawn(move || {
                for n in 0..25 {
                    log.append(note(&format!("{hand}-{n}"), "x"), Vec::new()).expect("kept");
                }
            });
        }
    });
    let verdict = logs[0].verify().expect("read");
    assert_eq!((verdict.records, verdict.wrong.len()), (200, 0));
    let entries = logs[1].list().expect("read").entries;
    assert!(entries.windows(2).all(|w| w[1].record.head.previous == w[0].hash));
}

fn bytes_below(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(at) = open.pop() {
        for entry in std::fs::read_dir(at).expect("readable").flatten() {
            if entry.path().is_dir() {
                open.push(entry.path());
            } else {
                let name = entry.path().strip_prefix(folder).expect("below").to_string_lossy().into_owned();
                all.push((name, std::fs::read(entry.path()).expect("readable")));
            }
        }
    }
    all.sort();
    all
}

#[test]
fn out_and_in_and_out_again_is_the_same_bytes() {
    let here = site();
    let log = Log::open(&here.folder).expect("opened");
    log.append(note("a", "x"), vec![incoming(with_notes(&picture(300, 200)))]).expect("kept");
    log.append(note("b", "logger"), vec![incoming(b"time,CO2\n0,420\n".to_vec())]).expect("kept");
    log.append(note("a", "not the same"), Vec::new()).expect("kept");
    for originals in [false, true] {
        let out = here.dir.path().join(format!("out-{originals}"));
        let exported = log.export(&out, originals).expect("exported");
        assert_eq!(exported.manifest.files.len(), if originals { 3 } else { 2 });
        assert!(log.export(&out, originals).is_err(), "nothing is written over");
        let there = site();
        let other = Log::open(&there.folder).expect("opened");
        let brought = other.import(&out).expect("taken in");
        assert_eq!((brought.kept, brought.beside, brought.already), (2, 1, 0));
        assert_eq!(other.import(&out).expect("taken in").already, 3, "again is harmless");
        let back = there.dir.path().join("back");
        other.export(&back, originals).expect("exported");
        assert!(bytes_below(&out) == bytes_below(&back), "byte for byte");
        let verdict = other.verify().expect("read");
        assert!(verdict.wrong.is_empty());
        assert_eq!(verdict.missing.len(), usize::from(!originals));
    }
}

#[test]
fn a_spoiled_export_is_refused_whole() {
    let here = site();
    let log = Log::open(&here.folder).expect("opened");
    log.append(note("a", "x"), vec![incoming(picture(30, 20))]).expect("kept");
    let spoil: [fn(&Path); 4] = [
        |out| {
            let path = out.join("records.jsonl");
            let text = std::fs::read_to_string(&path).expect("there").replace("\"x\"", "\"y\"");
            std::fs::write(path, text).expect("written");
        },
        |out| {
            let copy = std::fs::read_dir(out.join("copies")).expect("there").flatten().next().expect("one");
            std::fs::write(copy.path(), b"<script>").expect("written");
        },
        |out| {
            let path = out.join(MANIFEST);
            let text = std::fs::read_to_string(&path).expect("there").replace("copies/", "../copies/");
            std::fs::write(path, text).expect("written");
        },
        |out| std::fs::remove_file(out.join(MANIFEST)).expect("removed"),
    ];
    for (n, spoil) in spoil.into_iter().enumerate() {
        let out = here.dir.path().join(format!("out{n}"));
        log.export(&out, false).expect("exported");
        spoil(&out);
        let there = site();
        let other = Log::open(&there.folder).expect("opened");
        assert!(other.import(&out).is_err(), "way {n}");
        assert!(other.list().expect("read").entries.is_empty(), "way {n}");
    }
}

#[test]
fn every_older_store_is_brought_up_to_date() {
    let newest = usize::try_from(NEWEST).expect("small");
    for version in 1..newest {
        let site = site();
        let log = Log::open(&site.folder).expect("opened");
        log.append(note("a", "x"), vec![incoming(picture(8, 8))]).expect("kept");
        log.append(note("b", "y"), Vec::new()).expect("kept");
        let entries = log.list().expect("read").entries;
        drop(log);
        // The same rows in a store as that version made it.
        let path = site.dir.path().join(STORE);
        let rows = read::rows(&Connection::open(&path).expect("opened")).expect("read");
        std::fs::remove_file(&path).expect("removed");
        let mut old = Connection::open(&path).expect("made");
        schema::bring_up(&mut old, schema::steps_to(version)).expect("stepped");
        for (row, entry) in rows.iter().zip(&entries) {
            let content = content(&entry.record).expect("text");
            let values =
                rusqlite::params![row.number, entry.record.head.id, content, row.hash, row.chain, row.line];
            old.execute(
                "INSERT INTO records (seq, id, content, hash, chain, line) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                values,
            )
            .expect("inserted");
        }
        drop(old);
        // Reading alone does not need the newest tables.
        assert_eq!(read(site.folder.root()).expect("read").entries, entries, "version {version}");
        let log = Log::open(&site.folder).expect("opened");
        assert_eq!(log.list().expect("read").entries, entries, "version {version}");
        let verdict = log.verify().expect("read");
        assert_eq!((verdict.records, verdict.originals, verdict.wrong.len()), (2, 1, 0), "version {version}");
        assert_eq!(log.append(note("c", "z"), Vec::new()).expect("kept").number, 3);
    }
}

#[test]
fn a_store_of_a_newer_program_or_of_another_is_left_alone() {
    let site = site();
    drop(Log::open(&site.folder).expect("opened"));
    let path = site.dir.path().join(STORE);
    let db = Connection::open(&path).expect("opened");
    db.pragma_update(None, "user_version", NEWEST + 1).expect("set");
    assert!(matches!(Log::open(&site.folder), Err(LogError::Newer { .. })));
    assert!(matches!(read(site.folder.root()), Err(LogError::Newer { .. })));
    db.pragma_update(None, "application_id", 7).expect("set");
    drop(db);
    assert!(matches!(Log::open(&site.folder), Err(LogError::NotALog { .. })));
    std::fs::write(&path, "not a database, but long enough to have a header of one").expect("written");
    assert!(matches!(Log::open(&site.folder), Err(LogError::NotALog { .. })));
}
