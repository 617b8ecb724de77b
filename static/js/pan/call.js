// The call when nobody has looked: three tones every few seconds, only after somebody switched the sound on.

const AGAIN_MS = 3000;
const TONES_HZ = [880, 660, 880];

export class Call {
  constructor() {
    this.context = null;
    this.timer = 0;
  }

  get on() {
    return this.context !== null;
  }

  /** Sound on or off. A browser lets a page sound only from a press, so this is called from one. */
  toggle() {
    if (this.context) {
      this.stop();
      this.context.close();
      this.context = null;
    } else {
      this.context = new AudioContext();
      this.tones([TONES_HZ[0]]);
    }
    return this.on;
  }

  ring(late) {
    if (!late || !this.context) return this.stop();
    if (this.timer) return;
    this.tones(TONES_HZ);
    this.timer = setInterval(() => this.tones(TONES_HZ), AGAIN_MS);
  }

  stop() {
    clearInterval(this.timer);
    this.timer = 0;
  }

  tones(tones) {
    const { context } = this;
    tones.forEach((hertz, nth) => {
      const tone = context.createOscillator();
      const loud = context.createGain();
      const from = context.currentTime + nth * 0.25;
      tone.frequency.value = hertz;
      tone.type = "square";
      loud.gain.setValueAtTime(0.3, from);
      loud.gain.setValueAtTime(0, from + 0.2);
      tone.connect(loud).connect(context.destination);
      tone.start(from);
      tone.stop(from + 0.22);
    });
  }
}
