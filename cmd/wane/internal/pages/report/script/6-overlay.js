// The page that lays declines over each other: two to six fixtures or cohorts, named in its address.
const mostCompared = 6;

async function curveOf(name, index) {
	const k = index.fixtures.findIndex(f => f[0] === name);
	if (k >= 0) {
		const c = (await load("curves-" + Math.floor(k / index.per)))[name];
		return c && {name, what: c.what, points: c.alone, dots: c.read, link: link(index.fixtures[k])};
	}
	const c = (await load("cohorts"))[name];
	return c && {name, what: c.what, points: c.alone, dots: [], link: root + "makes.html", lamps: c.lamps};
}

// levelAt is a line's level at some hours, between its neighbours; null outside.
function levelAt(points, h) {
	for (let i = 1; i < points.length; i++) {
		const a = points[i - 1], b = points[i];
		if (h >= a[0] && h <= b[0]) return [1, 2, 3].map(k => a[k] + (b[k] - a[k]) * (h - a[0]) / (b[0] - a[0] || 1));
	}
	return null;
}

const hours = h => Math.round(h).toLocaleString("en-GB");

function agesTable(lines) {
	const drawn = lines.filter(l => l.points.length > 1), last = Math.max(0, ...drawn.map(l => l.points.at(-1)[0]));
	const head = make("tr", {}, make("th", {scope: "col", class: "n"}, "Run-hours"), ...lines.map(l => make("th", {scope: "col", class: "n"}, l.name)));
	const body = make("tbody");
	const step = nice(last / 12 || 1);
	for (let h = step; h <= last; h += step) body.append(make("tr", {}, make("th", {scope: "row", class: "n"}, hours(h)), ...lines.map(l => {
		const v = levelAt(l.points, h);
		return make("td", {class: "n"}, ...(v ? [v[0].toFixed(3), " ", make("small", {}, `(${v[1].toFixed(3)} to ${v[2].toFixed(3)})`)] : ["not known"]));
	})));
	return make("div", {class: "scroll", tabindex: 0, role: "region", "aria-label": "Levels at the same run-hours"},
		make("table", {}, make("caption", {}, "The lamps alone at the same run-hours: most likely level and interval"), make("thead", {}, head), body));
}

// finding says in words who is ahead at the run-hours that all have reached.
function finding(lines) {
	const drawn = lines.filter(l => l.points.length > 1);
	if (drawn.length < 2) return "";
	const h = Math.min(...drawn.map(l => l.points.at(-1)[0]));
	const at = drawn.map(l => [l.name, levelAt(l.points, h)]).filter(x => x[1]).sort((a, b) => b[1][0] - a[1][0]);
	if (at.length < 2) return "They have no run-hours in common.";
	const [best, worst] = [at[0], at.at(-1)];
	const sure = best[1][1] > worst[1][2] ? "their intervals do not meet" : "their intervals overlap, so this may be chance";
	return `At ${hours(h)} h, ${best[0]} stands at ${best[1][0].toFixed(2)} and ${worst[0]} at ${worst[1][0].toFixed(2)}: ${sure}.`;
}

async function overlayPage(section) {
	const index = await load("find"), said = section.querySelector("#overlay-said"), place = section.querySelector("#overlay-place");
	const names = () => location.hash.slice(1).split(",").filter(Boolean).map(decodeURIComponent).slice(0, mostCompared);
	const go = list => { location.hash = list.map(encodeURIComponent).join(","); };
	const entries = [...index.fixtures, ...index.cohorts.map(c => [c, "", "", "cohort", "", "", ""])];
	const chips = make("ul", {class: "chips", "aria-label": "Compared"});
	section.querySelector("#overlay-choose").replaceChildren(choice("Add a fixture or a cohort", "add", async () => entries,
		n => names().includes(n) || names().length >= mostCompared || go([...names(), n]), f => make("button", {type: "button", "data-name": f[0]}, f[0], aside(f))), chips);
	const show = async () => {
		const list = names();
		chips.replaceChildren(...list.map(n => {
			const b = make("button", {type: "button", "aria-label": "take " + n + " out"}, n + " ×");
			b.addEventListener("click", () => go(names().filter(x => x !== n)));
			return make("li", {}, b);
		}));
		const lines = (await Promise.all(list.map(n => curveOf(n, index)))).map((l, i) => l || {name: list[i], what: "no such fixture or cohort", points: [], dots: []});
		const title = finding(lines) || (lines.length ? lines[0].name : "");
		said.textContent = list.length < 2 ? "Choose two to six." : title;
		const drawn = lines.length ? curves(lines, title) : null;
		place.replaceChildren();
		if (!drawn) { if (list.length) place.append(make("p", {}, "None of these has a level yet.")); return; }
		const figure = make("figure", {id: "overlay-figure"}, make("div", {class: "chart"}, drawn),
			make("ul", {class: "key"}, ...lines.map((l, i) => make("li", {}, looks[i][2] + " ", l.link ? make("a", {href: l.link}, l.name) : l.name, " " + l.what))),
			make("figcaption", {}, "Lines and bands: the lamp alone, without dirt and drift, with its interval (of a cohort: its median lamp and the middle 80 % of its lamps). Dots: readings, with the dirt on them."));
		place.append(figure, agesTable(lines));
		figureTools(figure);
		tableTools(place.querySelector("table"), "ages");
	};
	addEventListener("hashchange", show);
	show();
}
