/* The run-time of a learning platform, in its two published forms: SCORM 1.2, Run-Time Environment
   (ADL 2001), and SCORM 2004 4th Edition, Run-Time Environment (ADL 2009), both from memory. Names,
   words and units of the two stand side by side here and nowhere else. */
const FURTHEST = 50;
const LONGEST_DESCRIPTION = 250;
// What a platform says of who has finished once. Whatever else it says, or does not say, is to come.
const FINISHED = ["completed", "passed", "failed", "browsed"];

const VERSIONS = {
  "1.2": {
    api: "API",
    call: (name) => `LMS${name === "Terminate" ? "Finish" : name}`,
    place: "cmi.core.lesson_location",
    exit: "cmi.core.exit",
    session: "cmi.core.session_time",
    status: "cmi.core.lesson_status",
    score: "cmi.core.score",
    response: "student_response",
    wrong: "wrong",
    unknown: "401",
    time: clock,
    moment: (now) => ["time", now.toTimeString().slice(0, 8)],
    more: () => [],
    scoreMore: () => [],
    progress: () => [],
  },
  2004: {
    api: "API_1484_11",
    call: (name) => name,
    place: "cmi.location",
    exit: "cmi.exit",
    session: "cmi.session_time",
    status: "cmi.completion_status",
    score: "cmi.score",
    response: "learner_response",
    wrong: "incorrect",
    unknown: "402",
    time: (seconds) => `PT${seconds.toFixed(2)}S`,
    moment: (now) => ["timestamp", `${now.toISOString().slice(0, 22)}Z`],
    more: ({ prompt, mixup }) => [["description", `${prompt}${mixup ? ` Mixed up: ${mixup}.` : ""}`.slice(0, LONGEST_DESCRIPTION)]],
    scoreMore: (share) => [["scaled", share.toFixed(4)]],
    progress: (share) => [["cmi.progress_measure", share.toFixed(4)]],
  },
};

/* Seconds as hours, minutes and seconds of the older form. */
function clock(seconds) {
  const pad = (number, digits) => String(number).padStart(digits, "0");
  const whole = Math.floor(seconds);
  const hundredths = pad(Math.floor((seconds - whole) * 100), 2);
  return `${pad(Math.min(Math.floor(whole / 3600), 9999), 4)}:${pad(Math.floor(whole / 60) % 60, 2)}:${pad(whole % 60, 2)}.${hundredths}`;
}

/* The object of a name in a window, in those around it, or in the one that opened it. A window of
   another origin may not be looked into: there is none in it. */
function find(name, start) {
  try {
    let at = start;
    for (let far = 0; at && far < FURTHEST; far += 1) {
      if (at[name]) return at[name];
      if (at.parent === at) break;
      at = at.parent;
    }
    return start.top.opener ? find(name, start.top.opener) : null;
  } catch (error) {
    if (error instanceof DOMException) return null;
    throw error;
  }
}

/* What can be told to the platform of a version; null where none is found, and that it has refused
   where it will not begin. What it does not take is
   said to the pupil: once, and of every answer. */
export function connect(version, tell) {
  const form = VERSIONS[version];
  const api = find(form.api, window);
  if (!api) return null;
  const began = Date.now();
  let open = true;
  let complained = false;
  let interactions = 0;
  const known = new Map();

  /* Whatever a platform throws instead of an answer (its window may be closed, say), the lesson goes
     on: that is told as any refusal is. */
  function call(name, ...values) {
    let thrown = "";
    try {
      const answer = String(api[form.call(name)](...values));
      if (answer !== "false") return answer;
    } catch (error) {
      thrown = String(error);
    }
    complain(`${name} ${values[0]}`, thrown);
    return "false";
  }

  /* A platform need not know every name, least of all those of single answers in the older form:
     that is no fault. */
  function complain(what, thrown) {
    const why = thrown || lastError();
    if (complained || why === null) return;
    complained = true;
    tell(`The learning platform did not take what you did (${what}: ${why}). Tell your teacher.`);
  }

  /* The number of the last error and its words; null for a name that is not known. */
  function lastError() {
    try {
      const code = String(api[form.call("GetLastError")]());
      return code === form.unknown ? null : `${code} ${api[form.call("GetErrorString")](code)}`;
    } catch (error) {
      return String(error);
    }
  }

  /* Only what has changed is told. */
  function set(name, value) {
    if (!open || known.get(name) === value) return;
    if (call("SetValue", name, value) === "true") known.set(name, value);
  }

  const get = (name) => call("GetValue", name);

  if (call("Initialize", "") !== "true") return { refused: true };
  interactions = Number(get("cmi.interactions._count")) || 0;
  const finished = FINISHED.includes(get(form.status));
  if (!finished) set(form.status, "incomplete");
  // The first frame, which comes now, would take away what was told: so it is told with that again.
  complained = false;

  return {
    /* What was kept when the pupil left last; empty at the first time. */
    kept: () => get("cmi.suspend_data"),
    keep(data, place) {
      set("cmi.suspend_data", data);
      set(form.place, place);
    },
    score(share) {
      for (const [name, value] of [["min", "0"], ["max", "100"], ["raw", String(Math.round(100 * share))], ...form.scoreMore(share)]) {
        set(`${form.score}.${name}`, value);
      }
    },
    progress(share, done) {
      for (const [name, value] of form.progress(share)) set(name, value);
      // Whoever has finished once has finished, and what the platform makes of it stays.
      if (done && !finished) set(form.status, "completed");
    },
    interaction(given) {
      // An answer that is not taken is told each time.
      complained = false;
      const at = `cmi.interactions.${interactions}`;
      interactions += 1;
      const fields = [
        ["id", given.id],
        ["type", "choice"],
        ...(given.mixup ? [["objectives.0.id", `mix-up-${given.mixup.toLowerCase().replace(/[^a-z0-9]+/g, "-")}`]] : []),
        form.moment(new Date()),
        ["correct_responses.0.pattern", given.answer],
        ["weighting", "1"],
        [form.response, given.response],
        ["result", given.right ? "correct" : form.wrong],
        ["latency", form.time(given.seconds)],
        ...form.more(given),
      ];
      for (const [name, value] of fields) set(`${at}.${name}`, value);
    },
    commit() {
      if (open) call("Commit", "");
    },
    finish() {
      if (!open) return;
      set(form.session, form.time((Date.now() - began) / 1000));
      // The place is kept until the next time.
      set(form.exit, "suspend");
      call("Commit", "");
      open = false;
      call("Terminate", "");
    },
  };
}
