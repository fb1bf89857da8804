//! A headless Chromium, spoken to through its own debugging door.
//!
//! Needs Chromium, by `WINDTIGHT_CHROMIUM` or where packages put it; `cargo xtask test` installs it. A missing browser
//! fails the test: pages that nobody looked at are not known to be right.

use serde_json::{Value, json};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tungstenite::{Message, WebSocket};

const PATIENCE: Duration = Duration::from_secs(180);

fn program() -> PathBuf {
    let named = std::env::var_os("WINDTIGHT_CHROMIUM").map(PathBuf::from);
    let usual =
        ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/opt/homebrew/bin/chromium"].map(PathBuf::from);
    named.into_iter().chain(usual).find(|path| path.is_file()).unwrap_or_else(|| {
        panic!("the page tests need Chromium: `cargo xtask test` installs it, or name its program in WINDTIGHT_CHROMIUM")
    })
}

/// One browser with one page.
pub struct Chromium {
    child: Child,
    socket: WebSocket<TcpStream>,
    session: String,
    next: u64,
    /// What went wrong on the page: exceptions, refusals of its policy.
    pub complaints: Vec<String>,
    _profile: tempfile::TempDir,
}

impl Chromium {
    pub fn start() -> Self {
        let profile = tempfile::tempdir().expect("a temporary folder");
        let child = Command::new(program())
            .args([
                "--headless=new",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-quic",
                "--no-first-run",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
                "--hide-scrollbars",
                "--force-prefers-reduced-motion",
                "--remote-debugging-port=0",
                "about:blank",
            ])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the browser starts");
        let file = profile.path().join("DevToolsActivePort");
        let began = Instant::now();
        let address = loop {
            let text = std::fs::read_to_string(&file).unwrap_or_default();
            if let Some((port, path)) = text.trim().split_once('\n') {
                break (port.parse::<u16>().expect("a port"), path.to_owned());
            }
            assert!(began.elapsed() < PATIENCE, "the browser opened no door");
            std::thread::sleep(Duration::from_millis(30));
        };
        let stream = TcpStream::connect(("127.0.0.1", address.0)).expect("connected");
        stream.set_read_timeout(Some(PATIENCE)).expect("set");
        let url = format!("ws://127.0.0.1:{}{}", address.0, address.1);
        let (socket, _) = tungstenite::client(url, stream).expect("a web socket");
        let mut browser = Self {
            child,
            socket,
            session: String::new(),
            next: 0,
            complaints: Vec::new(),
            _profile: profile,
        };
        let target = browser.call("Target.createTarget", json!({ "url": "about:blank" }));
        let attached =
            browser.call("Target.attachToTarget", json!({ "targetId": target["targetId"], "flatten": true }));
        browser.session = attached["sessionId"].as_str().expect("a session").to_owned();
        for domain in ["Page", "Runtime", "Log", "DOM", "Network"] {
            browser.call(&format!("{domain}.enable"), json!({}));
        }
        browser
    }

    /// Asks and waits for the answer; keeps complaints that come meanwhile.
    pub fn call(&mut self, method: &str, params: Value) -> Value {
        let answer = self.ask(method, params);
        assert!(answer.get("error").is_none(), "{method}: {}", answer["error"]);
        answer["result"].clone()
    }

    fn ask(&mut self, method: &str, params: Value) -> Value {
        self.next += 1;
        let id = self.next;
        let mut message = json!({ "id": id, "method": method, "params": params });
        if !self.session.is_empty() {
            message["sessionId"] = json!(self.session);
        }
        self.socket.send(Message::text(message.to_string())).expect("sent");
        loop {
            let answer = self.read();
            if answer["id"] == json!(id) {
                return answer;
            }
        }
    }

    fn read(&mut self) -> Value {
        loop {
            let message = self.socket.read().expect("the browser answers");
            let Message::Text(text) = message else { continue };
            let value: Value = serde_json::from_str(text.as_str()).expect("JSON");
            match value["method"].as_str() {
                Some("Runtime.exceptionThrown") => {
                    let details = &value["params"]["exceptionDetails"];
                    self.complaints
                        .push(format!("{} {}", details["text"], details["exception"]["description"]));
                }
                Some("Log.entryAdded") => {
                    let entry = &value["params"]["entry"];
                    let words = entry["text"].as_str().unwrap_or("").to_owned();
                    // A cut connection and a refusal are part of some tests; the page says so itself.
                    let expected = entry["source"] == json!("network");
                    if entry["level"] == json!("error") && !expected {
                        self.complaints.push(words);
                    }
                }
                Some("Page.javascriptDialogOpening") => {
                    // Only the question before unsaved words are lost; answered when asked for.
                    self.complaints.push(format!("a dialog: {}", value["params"]["message"]));
                }
                _ => {}
            }
            return value;
        }
    }

    /// Evaluates a script, waiting for its promise.
    pub fn eval(&mut self, script: &str) -> Value {
        let params =
            json!({ "expression": script, "awaitPromise": true, "returnByValue": true, "userGesture": true });
        let result = self.call("Runtime.evaluate", params);
        assert!(result.get("exceptionDetails").is_none(), "{script}: {}", result["exceptionDetails"]);
        result["result"]["value"].clone()
    }

    pub fn text(&mut self, script: &str) -> String {
        self.eval(script).as_str().unwrap_or_default().to_owned()
    }

    /// Waits until a script says true.
    pub fn until(&mut self, what: &str, script: &str) {
        let began = Instant::now();
        // While a page is being replaced a script may have nowhere to run; that is no yes.
        let asked = format!("(() => {{ try {{ return !!({script}); }} catch {{ return false; }} }})()");
        loop {
            let params = json!({ "expression": asked, "returnByValue": true });
            // A page that goes away while it is asked says no.
            if self.ask("Runtime.evaluate", params)["result"]["result"]["value"] == json!(true) {
                return;
            }
            if began.elapsed() > PATIENCE {
                let page = self.text("document.body.innerText.slice(0, 3000)");
                panic!(
                    "waited too long for {what}; complaints: {:?}; the page says:\n{page}",
                    self.complaints
                );
            }
            std::thread::sleep(Duration::from_millis(40));
        }
    }

    /// Opens an address and waits until it is whole.
    pub fn go(&mut self, url: &str) {
        self.eval("window.__before = true; true");
        self.call("Page.navigate", json!({ "url": url }));
        self.until("the page", "!window.__before && document.readyState === 'complete'");
    }

    /// Size of the page in CSS pixels; narrow ones as a phone.
    pub fn size(&mut self, width: u32, height: u32) {
        let mobile = width < 700;
        let scale = if mobile { 2 } else { 1 };
        let params =
            json!({ "width": width, "height": height, "deviceScaleFactor": scale, "mobile": mobile });
        self.call("Emulation.setDeviceMetricsOverride", params);
        self.call("Emulation.setTouchEmulationEnabled", json!({ "enabled": mobile }));
    }

    /// Clicks the middle of the first element that fits, as a hand would.
    pub fn click(&mut self, selector: &str) {
        let quoted = json!(selector);
        self.until(selector, &format!("document.querySelector({quoted})"));
        let script = format!(
            "(() => {{ const e = document.querySelector({quoted}); e.scrollIntoView({{ block: 'center', behavior: 'instant' }}); \
             const r = e.getClientRects()[0]; return [r.x + r.width / 2, r.y + r.height / 2]; }})()"
        );
        let at = self.eval(&script);
        for kind in ["mousePressed", "mouseReleased"] {
            let params = json!({ "type": kind, "x": at[0], "y": at[1], "button": "left", "clickCount": 1 });
            self.call("Input.dispatchMouseEvent", params);
        }
    }

    /// Types words where the caret is.
    pub fn write(&mut self, words: &str) {
        self.call("Input.insertText", json!({ "text": words }));
    }

    /// Presses a key, with Ctrl when asked.
    pub fn press(&mut self, key: &str, ctrl: bool) {
        let code = match key {
            "Tab" => 9,
            "Enter" => 13,
            "s" => 83,
            "ArrowRight" => 39,
            _ => 0,
        };
        let modifiers = if ctrl { 2 } else { 0 };
        for kind in ["rawKeyDown", "keyUp"] {
            let params = json!({ "type": kind, "key": key, "code": if key == "s" { "KeyS" } else { key },
                "windowsVirtualKeyCode": code, "modifiers": modifiers });
            self.call("Input.dispatchKeyEvent", params);
        }
    }

    /// Puts a file into a file field, as the camera does.
    pub fn file(&mut self, selector: &str, path: &Path) {
        let root = self.call("DOM.getDocument", json!({}))["root"]["nodeId"].clone();
        let node =
            self.call("DOM.querySelector", json!({ "nodeId": root, "selector": selector }))["nodeId"].clone();
        self.call("DOM.setFileInputFiles", json!({ "nodeId": node, "files": [path] }));
    }

    /// Saves a picture of the page as it is seen, when `WINDTIGHT_SHOTS` names a folder.
    pub fn shot(&mut self, name: &str) {
        let Some(folder) = std::env::var_os("WINDTIGHT_SHOTS") else { return };
        std::fs::create_dir_all(&folder).expect("a folder");
        let result = self.call("Page.captureScreenshot", json!({ "format": "png" }));
        let bytes = unbase64(result["data"].as_str().expect("a picture"));
        std::fs::write(PathBuf::from(folder).join(format!("{name}.png")), bytes).expect("written");
    }

    /// Ends with nothing having gone wrong on any page.
    pub fn content(&mut self) {
        assert_eq!(self.complaints, Vec::<String>::new());
    }
}

impl Drop for Chromium {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn unbase64(text: &str) -> Vec<u8> {
    let value = |c: u8| match c {
        b'A'..=b'Z' => c - b'A',
        b'a'..=b'z' => c - b'a' + 26,
        b'0'..=b'9' => c - b'0' + 52,
        b'+' => 62,
        _ => 63,
    };
    let letters: Vec<u8> = text.bytes().filter(|c| *c != b'=').collect();
    letters
        .chunks(4)
        .flat_map(|chunk| {
            let word =
                chunk.iter().enumerate().fold(0_u32, |w, (i, c)| w | u32::from(value(*c)) << (18 - 6 * i));
            let bytes = [(word >> 16) as u8, (word >> 8) as u8, word as u8];
            bytes.into_iter().take(chunk.len() - 1)
        })
        .collect()
}
