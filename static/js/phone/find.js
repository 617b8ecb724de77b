// Finding a tree by its tag: typed, or read with the camera where the browser can.
import * as round from "./round.js";

// The page hands its tools over: two modules that import each other could have no hashed names.
let page, say, screen, show, wrong;
export const meet = (given) => ({ say, screen, show, wrong } = page = given);

export function find() {
  const { root, f } = screen("t-find");
  const form = root.querySelector("form");
  const jump = (typed) => {
    const found = round.findTree(page.stops(), typed);
    if (found) return page.go(found.ready ? `${found.code}/tap` : found.code);
    return wrong(f, say("no_tree", { code: String(typed).slice(0, 40) }));
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    jump(form.tag.value);
  });
  if ("BarcodeDetector" in self && navigator.mediaDevices?.getUserMedia) {
    f.scan.hidden = false;
    f.scan.addEventListener("click", () => scan(f.video, jump, () => wrong(f, say("code_read"))));
  }
  show(root, "");
}

/** Read a QR code with the camera, for at most half a minute. */
async function scan(video, found, failed) {
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  } catch {
    return failed();
  }
  const reader = new self.BarcodeDetector({ formats: ["qr_code"] });
  video.srcObject = stream;
  video.hidden = false;
  await video.play();
  const end = Date.now() + 30_000;
  try {
    while (video.isConnected && Date.now() < end) {
      const [code] = await reader.detect(video).catch(() => []);
      if (code) return found(code.rawValue);
      await new Promise((done) => setTimeout(done, 200));
    }
  } finally {
    for (const track of stream.getTracks()) track.stop();
    video.hidden = true;
  }
  return video.isConnected && failed();
}
