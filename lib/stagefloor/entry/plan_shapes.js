// The shapes and symbols of an entry plan as SVG, from metres at a scale in pixels a metre; keeps nothing.

const SVG = "http://www.w3.org/2000/svg";
const SHAPES = {
  stage: "Stage edge",
  stage_assumed: "Stage edge, assumed: enter it in the job sheet",
  joist: "Joist",
  bearing: "Beam or wall",
  keep_clear: "Keep-clear path",
  path: "Path",
  reach: "Reach outline",
  cable: "Cable on the floor",
  raceway: "Raceway",
};

function drawn(tag, attributes = {}, ...children) {
  const made = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) made.setAttribute(key, value);
  }
  made.append(...children);
  return made;
}

function toScreen([x, y], scale) {
  return [x * scale, -y * scale];
}

function path(points, scale) {
  return points
    .map((point) =>
      toScreen(point, scale)
        .map((value) => value.toFixed(1))
        .join(","),
    )
    .join(" ");
}

function outline(shape, attributes, scale) {
  if (shape.kind === "polygon") return drawn("polygon", { ...attributes, points: path(shape.points, scale) });
  if (shape.kind === "line") return drawn("polyline", { ...attributes, points: path(shape.points, scale) });
  if (shape.kind === "rect") {
    const [[x0, y0], [x1, y1]] = shape.points;
    return drawn("polygon", {
      ...attributes,
      points: path(
        [
          [x0, y0],
          [x1, y0],
          [x1, y1],
          [x0, y1],
        ],
        scale,
      ),
    });
  }
  if (shape.kind === "circle") {
    const [cx, cy] = toScreen(shape.center, scale);
    return drawn("circle", { ...attributes, cx, cy, r: shape.radius * scale });
  }
  return null; // text is drawn with the labels
}

function symbol(item, [w, h]) {
  const [x, y] = [-w / 2, -h / 2];
  const body = (extra = {}) => drawn("rect", { x, y, width: w, height: h, class: "sf-body", ...extra });
  const line = (x1, y1, x2, y2) => drawn("line", { x1, y1, x2, y2, class: "sf-mark" });
  const symbols = {
    floor_box: () => [
      body({ rx: 2 }),
      drawn("rect", {
        x: x + w * 0.22,
        y: y + h * 0.22,
        width: w * 0.56,
        height: h * 0.56,
        class: "sf-mark",
      }),
    ],
    wall_panel: () => [body(), drawn("rect", { x, y, width: w, height: h / 3, class: "sf-solid" })],
    point: () => [drawn("circle", { r: 7, class: "sf-body" }), line(-3.5, 0, 3.5, 0), line(0, -3.5, 0, 3.5)],
    node: () => [drawn("polygon", { points: "0,-7 7,0 0,7 -7,0", class: "sf-body" })],
    rack: () => [body(), ...[0.25, 0.5, 0.75].map((part) => line(x + 3, y + h * part, -x - 3, y + h * part))],
    panel: () => [body(), line(x, -y, -x, y)],
  };
  return [
    drawn("circle", { r: Math.max(20, w / 2, h / 2), class: "sf-reachable" }),
    ...(symbols[item.role] || symbols.point)(),
    drawn("rect", {
      x: x - 5,
      y: y - 5,
      width: w + 10,
      height: h + 10,
      rx: 4,
      class: "sf-ring",
      "vector-effect": "non-scaling-stroke",
    }),
  ];
}

function anchors(shape) {
  if (shape.kind === "text") return [shape.center];
  if (shape.kind === "circle") {
    const [[x, y], r] = [shape.center, shape.radius];
    return [
      [x, y + r],
      [x, y - r],
      [x + r, y],
      [x - r, y],
    ];
  }
  const points = shape.points;
  const middle = [0, 1].map((axis) => points.reduce((sum, point) => sum + point[axis], 0) / points.length);
  const edges = points
    .slice(1)
    .map((point, index) => [0, 1].map((axis) => (point[axis] + points[index][axis]) / 2));
  return shape.kind === "line" ? [...edges, ...points] : [middle, ...edges];
}
