// The drawing of declines laid over each other. No two looks share a dash or a mark.
const looks = [["#005f99", "", "●"], ["#b84600", "6 3", "■"], ["#007455", "7 2.5 1.5 2.5", "▲"], ["#8a3f70", "12 4", "✕"], ["#8f6600", "1.5 2.5", "○"], ["#1a1a1a", "6 3", "+"]];

function nice(x) {
	const p = 10 ** Math.floor(Math.log10(x));
	return [1, 2, 5, 10].map(k => k * p).find(s => s >= x * 0.999);
}

function ticks(lo, hi, n) {
	const step = nice((hi - lo) / n), out = [];
	for (let k = Math.ceil(lo / step - 1e-9); k * step <= hi + 1e-9; k++) out.push(k * step);
	return out;
}

// curves draws lines: each is {name, points: [[hours, level, lo, hi]], dots: [[hours, level]]}.
function curves(lines, title) {
	const narrow = innerWidth < 750, w = narrow ? 400 : 940, h = narrow ? 330 : 440, left = 48, right = narrow ? 12 : 190, top = 14, foot = 44;
	const all = lines.flatMap(l => [...l.points.flatMap(p => [[p[0], p[2]], [p[0], p[3]]]), ...l.dots]).filter(p => p.every(Number.isFinite));
	if (!all.length) return null;
	const x0 = Math.min(...all.map(p => p[0])), x1 = Math.max(...all.map(p => p[0])), y0 = Math.min(...all.map(p => p[1])), y1 = Math.max(...all.map(p => p[1]));
	const x = v => left + (v - x0) / (x1 - x0 || 1) * (w - left - right), y = v => h - foot - (v - y0) / (y1 - y0 || 1) * (h - top - foot);
	const at = (a, b) => x(a).toFixed(1) + " " + y(b).toFixed(1);
	const s = svg("svg", {viewBox: `0 0 ${w} ${h}`, role: "img", "aria-label": title});
	for (const t of ticks(y0, y1, 6)) s.append(svg("path", {d: `M${left} ${y(t).toFixed(1)}H${w - right}`, stroke: "#6b6b6b", "stroke-width": .3}), svg("text", {x: left - 6, y: y(t) + 4, "text-anchor": "end", "font-size": 11, fill: "#1a1a1a"}, t.toFixed(2)));
	for (const t of ticks(x0, x1, narrow ? 4 : 7)) s.append(svg("text", {x: x(t), y: h - foot + 16, "text-anchor": "middle", "font-size": 11, fill: "#1a1a1a"}, t.toLocaleString("en-GB")));
	s.append(svg("path", {d: `M${left} ${top}V${h - foot}H${w - right}`, fill: "none", stroke: "#1a1a1a", "stroke-width": .8}),
		svg("text", {x: (left + w - right) / 2, y: h - 8, "text-anchor": "middle", "font-size": 12, fill: "#1a1a1a"}, "run-hours, h"));
	const names = [];
	lines.forEach((l, i) => {
		const [colour, dash, mark] = looks[i];
		if (l.points.length > 1) {
			s.append(svg("path", {d: "M" + l.points.map(p => at(p[0], p[3])).join("L") + "L" + [...l.points].reverse().map(p => at(p[0], p[2])).join("L") + "z", fill: colour, "fill-opacity": .12}));
			s.append(svg("path", {d: "M" + l.points.map(p => at(p[0], p[1])).join("L"), fill: "none", stroke: colour, "stroke-width": 1.8, "stroke-dasharray": dash || "none"}));
		}
		if (l.dots.length) s.append(svg("path", {d: l.dots.map(p => "M" + at(p[0], p[1]) + "h0").join(""), stroke: colour, "stroke-width": 2.5, "stroke-linecap": "round", "stroke-opacity": .5, fill: "none"}));
		const end = l.points.at(-1) || l.dots.at(-1);
		if (end) names.push({y: y(end[1]), x: x(end[0]), text: mark + " " + l.name, colour});
	});
	names.sort((a, b) => a.y - b.y);
	names.forEach((n, i) => {
		if (i) n.y = Math.max(n.y, names[i - 1].y + 13);
		if (narrow) return;
		s.append(svg("text", {x: Math.max(n.x + 6, w - right + 4), y: n.y + 4, "font-size": 12, "font-weight": "bold", fill: n.colour}, n.text.slice(0, 27)));
	});
	return s;
}
