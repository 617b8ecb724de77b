// The survey sheet: squares A to D by 1 to 4 over whatever is in view, for talking on the telephone.
export function drawSquares(g, view, palette) {
  const { width, height } = view;
  g.save();
  g.strokeStyle = palette.hair;
  g.lineWidth = 1;
  g.setLineDash([1, 7]);
  g.lineCap = "butt";
  g.beginPath();
  for (let n = 1; n < 4; n++) {
    g.moveTo((width * n) / 4, 0);
    g.lineTo((width * n) / 4, height);
    g.moveTo(0, (height * n) / 4);
    g.lineTo(width, (height * n) / 4);
  }
  g.stroke();
  g.restore();
}

/** Their letters and numbers, above the trees. */
export function drawLetters(g, { width, height }, palette) {
  g.save();
  g.font = `700 13px ${palette.face}`;
  g.textAlign = "center";
  g.textBaseline = "middle";
  g.strokeStyle = palette.sheet;
  g.fillStyle = palette["ink-soft"];
  g.lineWidth = 4;
  g.lineJoin = "round";
  for (let n = 0; n < 4; n++) {
    for (const [word, x, y] of [["ABCD"[n], (width * (n + 0.5)) / 4, 11], [String(n + 1), 11, (height * (n + 0.5)) / 4]]) {
      g.strokeText(word, x, y);
      g.fillText(word, x, y);
    }
  }
  g.restore();
}
