// The bench page: the job file is the truth; every control writes one key of it.
import { guarded } from "./asking.js";
import "./beside.js";
import { begin } from "./controls.js";
import "./marks.js";
import "./moving.js";
import { listJobs } from "./opening.js";
import "./scanning.js";
import "./working.js";

guarded(async () => {
  await begin();
  await listJobs();
})();
