//! Records and photos over a real connection: what is taken, what is refused, what is shown.

mod common;

use common::{Bench, Client};
use std::fmt::Write as _;
use workbench::access::Role;

const JSON: &str = "Content-Type: application/json\r\n";

/// A drawn test card as JPEG, with a comment in it that a copy must not carry on.
fn photo() -> Vec<u8> {
    include_bytes!("photo.jpg").to_vec()
}

fn posted(client: &Client, path: &str, head: &str, body: &[u8]) -> (u16, serde_json::Value) {
    let head = format!("{head}X-Windtight-Token: {}\r\n", client.token);
    let answer = client.post(path, &head, body);
    let value = serde_json::from_slice(&answer.body).unwrap_or(serde_json::Value::Null);
    (answer.status, value)
}

fn attach(client: &Client, bytes: &[u8], name: &str) -> (u16, serde_json::Value) {
    let head =
        format!("Content-Type: application/octet-stream\r\nX-File-Name: {}\r\n", common::encoded(name));
    posted(client, "/photo", &head, bytes)
}

fn delivery(id: &str, product: &str, attachments: serde_json::Value) -> String {
    serde_json::json!({
        "id": id, "client-time": "2026-03-14T09:30:00-05:00", "kind": "delivery", "name": "T.M.", "place": "space.hall",
        "fields": { "product": product, "as-ordered": "no" }, "attachments": attachments,
    })
    .to_string()
}

#[test]
fn a_delivery_with_its_photo_is_kept_once_however_often_it_is_sent() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Log);
    let (status, attachment) = attach(&client, &photo(), "../../Mühle <1>.jpg");
    assert_eq!(status, 200, "{attachment}");
    assert_eq!(attachment["media-type"], "image/jpeg");
    assert_eq!(attachment["file-name"], "Mühle <1>.jpg", "a name is a label, never a path");
    let hash = attachment["sha256"].as_str().expect("a hash").to_owned();
    let body =
        delivery("0190c3a0-0000-7000-8000-000000000001", "wood fibre", serde_json::json!([attachment]));
    let outcomes: Vec<String> = (0..3)
        .map(|_| {
            posted(&client, "/record/take", JSON, body.as_bytes()).1["outcome"]
                .as_str()
                .unwrap_or("")
                .to_owned()
        })
        .collect();
    assert_eq!(outcomes, ["kept", "already-there", "already-there"]);
    let other = body.replace("wood fibre", "hemp");
    assert_eq!(posted(&client, "/record/take", JSON, other.as_bytes()).1["outcome"], "beside-others");

    let page = client.get("/log").text();
    assert!(page.contains("wood fibre") && page.contains("hemp"));
    assert!(page.contains(&format!("photo/{hash}")));
    let shown = client.get(&format!("/photo/{hash}"));
    assert_eq!((shown.status, shown.header("content-type")), (200, Some("image/jpeg")));
    assert_ne!(shown.body, photo(), "the original is never served");
    let secret = b"Windtight test place";
    assert!(photo().windows(secret.len()).any(|w| w == secret), "the original has a note in it");
    assert!(!shown.body.windows(secret.len()).any(|w| w == secret), "the copy has none");
    // The store and the page agree after all of it.
    let folder = project::source::Folder::open(bench.dir.path()).expect("opened");
    let verdict = project::log::Log::open(&folder).expect("opened").verify().expect("verified");
    assert_eq!((verdict.records, verdict.wrong.len(), verdict.missing.len()), (2, 0, 0));
}

#[test]
fn what_cannot_be_a_record_is_refused_with_its_field() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Log);
    let take = |body: &str| posted(&client, "/record/take", JSON, body.as_bytes());
    for body in ["", "[]", "nonsense", "{\"id\":3}", "{}", "{\"kind\":\"no-such\"}"] {
        assert_eq!(take(body).0, 422, "{body}");
    }
    let flow = |text: &str| {
        serde_json::json!({ "id": "0190c3a0-0000-7000-8000-000000000002", "client-time": "2026-03-14T09:30:00Z",
            "kind": "flow-reading", "fields": { "flow": text } })
        .to_string()
    };
    let (status, told) = take(&flow("120 kg"));
    assert_eq!((status, &told["wrong"][0]["field"]), (422, &serde_json::json!("flow")));
    assert_eq!(take(&flow("120 cfm")).0, 200);
    let ghost = serde_json::json!([{ "sha256": "0".repeat(64), "media-type": "image/jpeg" }]);
    let (status, told) = take(&delivery("0190c3a0-0000-7000-8000-000000000003", "x", ghost));
    assert_eq!(status, 422, "{told}");
    let climbing = serde_json::json!([{ "sha256": "../../building.toml", "media-type": "image/jpeg" }]);
    assert_eq!(take(&delivery("0190c3a0-0000-7000-8000-000000000004", "x", climbing)).0, 422);
}

#[test]
fn files_are_what_their_bytes_say() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Log);
    assert_eq!(attach(&client, b"", "empty.jpg").0, 422);
    let (_, page) = attach(&client, b"<!doctype html><script>alert(1)</script>", "holiday.jpg");
    assert_ne!(page["media-type"], "image/jpeg");
    let hash = page["sha256"].as_str().expect("kept as what it is").to_owned();
    let shown = client.get(&format!("/photo/{hash}"));
    assert_eq!(shown.status, 422);
    assert!(!shown.text().contains("<script>"));
    // A picture that claims to be enormous is kept, and not unpacked.
    let mut bomb = photo();
    let frame = bomb.windows(2).position(|w| w == [0xff, 0xc0]).expect("a baseline frame");
    bomb[frame + 5..frame + 9].copy_from_slice(&[0xff, 0xff, 0xff, 0xff]);
    let (status, kept) = attach(&client, &bomb, "bomb.jpg");
    assert_eq!(status, 200);
    let shown = client.get(&format!("/photo/{}", kept["sha256"].as_str().expect("a hash")));
    assert_eq!(shown.status, 422);
    for path in ["/photo/0", "/photo/..%2f..%2fbuilding.toml", &format!("/photo/{}", "0".repeat(64))] {
        assert_eq!(client.get(path).status, 404, "{path}");
    }
    let head = "Content-Type: application/octet-stream\r\n";
    assert!(matches!(posted(&client, "/photo", head, &vec![0; 33 << 20]).0, 413 | 0));
}

#[test]
fn whoever_may_only_look_writes_nothing() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Look);
    assert_eq!(attach(&client, &photo(), "a.jpg").0, 403);
    let body = delivery("0190c3a0-0000-7000-8000-000000000005", "x", serde_json::json!([]));
    assert_eq!(posted(&client, "/record/take", JSON, body.as_bytes()).0, 403);
    let form = [("token", client.token.as_str()), ("kind", "note"), ("f-text", "x")];
    assert_eq!(client.form("/record", &form).status, 403);
    assert!(!bench.dir.path().join("log").exists());
}

#[test]
fn a_form_without_a_script_is_enough_and_markup_stays_words() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Log);
    let nasty = "</dd><script>alert(1)</script><img src=x onerror=alert(2)> & \u{202e}";
    for kind in workbench::log::kinds::KINDS {
        assert_eq!(client.get(&format!("/record?kind={kind}")).status, 200, "{kind}");
    }
    let form = [
        ("token", client.token.as_str()),
        ("kind", "note"),
        ("f-text", nasty),
        ("place", nasty),
        ("note", nasty),
        ("name", nasty),
    ];
    assert_eq!(client.form("/record", &form).status, 303);
    let page = client.get("/log").text();
    assert!(page.contains("&lt;script&gt;alert(1)"));
    assert!(!page.contains("<script>alert") && !page.contains("<img src=x"));
    let wrong = [
        ("token", client.token.as_str()),
        ("kind", "moisture-reading"),
        ("f-depth", "deep"),
        ("note", nasty),
    ];
    let again = client.form("/record", &wrong);
    assert_eq!(again.status, 422);
    let again = again.text();
    assert!(again.contains("aria-invalid=\"true\"") && again.contains("value=\"deep\""));
    assert!(!again.contains("<script>alert"));
}

#[test]
fn a_photo_without_words_waits_to_be_completed() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Log);
    let (_, attachment) = attach(&client, &photo(), "a.jpg");
    let id = "0190c3a0-0000-7000-8000-000000000006";
    let shot = serde_json::json!({ "id": id, "client-time": "2026-03-14T09:30:00Z", "kind": "photo",
        "place": "space.hall", "attachments": [attachment] });
    assert_eq!(posted(&client, "/record/take", JSON, shot.to_string().as_bytes()).0, 200);
    let link = format!("record?kind=photo&amp;completes={id}");
    assert!(client.get("/log").text().contains(&link));
    let form = client.get(&format!("/record?kind=leak-found&completes={id}")).text();
    assert!(form.contains(&format!("name=\"corrects\" value=\"{id}\"")));
    let mut body = String::new();
    let _ = write!(
        body,
        "{}",
        serde_json::json!({ "id": "0190c3a0-0000-7000-8000-000000000007",
        "client-time": "2026-03-14T10:30:00Z", "kind": "leak-found", "corrects": id, "fields": { "size": "finger" } })
    );
    assert_eq!(posted(&client, "/record/take", JSON, body.as_bytes()).0, 200);
    assert!(!client.get("/log").text().contains(&link));
}

#[test]
fn a_fan_reading_reaches_the_log_and_the_talk() {
    let bench = Bench::house();
    bench.settled();
    let client = bench.client(Role::Log);
    let readings = "zero -1.0\n-70 655\n-60 592\n-50 527\n-40 456\n-30 379\n-20 292\n-12 210\nzero -1.0\n";
    let head =
        format!("X-Windtight-Token: {}\r\nContent-Type: application/x-www-form-urlencoded\r\n", client.token);
    let body = format!("unit=m3h&direction=down&readings={}", common::encoded(readings));
    let answer = client.post("/test-day/evaluate", &head, body.as_bytes());
    assert_eq!(answer.status, 200);
    let told: serde_json::Value = serde_json::from_slice(&answer.body).expect("JSON");
    let number = told["number"].as_str().expect("a number");
    assert!(number.contains("1/h at 50 Pa"), "{number}");
    assert!(
        client.get("/talk?at=1").text().contains(number),
        "the Talk page shows the fan as it was last read"
    );
    let record = serde_json::json!({ "id": "0190c3a0-0000-7000-8000-000000000008", "client-time": "2026-03-14T09:30:00Z",
        "kind": "pressure-test", "fields": { "unit": "m3h", "direction": "down", "readings": readings } });
    assert_eq!(posted(&client, "/record/take", JSON, record.to_string().as_bytes()).0, 200);
    assert!(client.get("/log").text().contains("Pressure test"));
}
