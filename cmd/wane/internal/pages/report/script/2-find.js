// matches gives up to n entries whose name begins with, else holds, what was typed,
// then those of a room, a bay or a cohort so called.
function matches(list, typed, n) {
	const t = typed.trim().toLowerCase();
	if (!t) return [];
	const rank = f => {
		const id = f[0].toLowerCase();
		if (id.startsWith(t)) return 0;
		if (id.includes(t)) return 1;
		return [f[1], f[2], f[4]].some(x => x.toLowerCase().includes(t)) ? 2 : 3;
	};
	const by = [[], [], []];
	for (const f of list) {
		const r = rank(f);
		if (r < 3 && by[r].length < n) by[r].push(f);
	}
	return by.flat().slice(0, n);
}

// choice is an input that offers entries as one types; chosen is told which.
function choice(label, id, list, chosen, draw) {
	const input = make("input", {type: "search", id, autocomplete: "off", placeholder: "a few letters of its name"});
	const ul = make("ul", {class: "offers", "aria-label": "Found", hidden: ""});
	const told = make("p", {class: "unseen", role: "status"});
	const box = make("div", {class: "choice"}, make("label", {for: id}, label), " ", input, told, ul);
	const close = () => { ul.hidden = true; };
	const offer = async () => {
		const found = matches(await list(), input.value, 12);
		ul.replaceChildren(...found.map(f => make("li", {}, draw(f))));
		ul.hidden = !input.value.trim();
		if (!found.length) ul.append(make("li", {class: "empty"}, "nothing of that name"));
		told.textContent = input.value.trim() ? found.length + " found" : "";
	};
	input.addEventListener("input", offer);
	box.addEventListener("keydown", e => {
		const all = [...ul.querySelectorAll("a,button")];
		const at = all.indexOf(document.activeElement);
		if (e.key === "Escape") { close(); input.focus(); }
		if (e.key === "ArrowDown" && all.length) { e.preventDefault(); all[Math.min(at + 1, all.length - 1)].focus(); }
		if (e.key === "ArrowUp") { e.preventDefault(); (at > 0 ? all[at - 1] : input).focus(); }
		if (e.key === "Enter" && at < 0 && all.length) { e.preventDefault(); all[0].click(); }
	});
	ul.addEventListener("click", e => {
		const f = e.target.closest("[data-name]");
		if (!f || !chosen) return;
		input.value = "";
		close();
		chosen(f.dataset.name);
		input.focus();
	});
	document.addEventListener("click", e => { if (!box.contains(e.target)) close(); });
	return box;
}

const aside = f => make("span", {class: "note"}, " " + [f[1] && "room " + f[1], f[3], f[5], f[6]].filter(Boolean).join(", "));

// The box in the head of every page.
function findBox() {
	const head = document.querySelector("header nav");
	if (!head || !head.dataset.find) return;
	head.after(choice("Find a fixture", "find", async () => (await load("find")).fixtures, null,
		f => make("a", {href: link(f)}, f[0], aside(f))));
}
