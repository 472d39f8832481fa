// A tone and a buzz when a hand is needed. It is asked for once when the bench opens; browsers want a tap for it.

const PITCH_HZ = { stir: 550, lower: 660, blank: 660, read: 880 };
const ANSWER = "siltbook-bench-sound"; // "on" or "off", while this window is open
const $ = (id) => document.getElementById(id);
let audio = null;
let last = "";

function turn(on) {
  if (on && audio === null) {
    audio = new AudioContext();
    tone(PITCH_HZ.lower);
  } else if (!on && audio !== null) {
    audio.close();
    audio = null;
  }
  sessionStorage.setItem(ANSWER, on ? "on" : "off");
  $("sound-ask").hidden = true;
  $("sound").setAttribute("aria-pressed", String(on));
  $("sound").textContent = on ? "Turn the sound off" : "Turn the sound on";
}

$("sound").addEventListener("click", () => turn(audio === null));
$("sound-on").addEventListener("click", () => turn(true));
$("sound-off").addEventListener("click", () => turn(false));

/* Loaded anew, the page may sound again at the first tap, wherever it is. */
function again({ target }) {
  if (!target.closest("#sound")) turn(true);
}

const answered = sessionStorage.getItem(ANSWER);
$("sound-ask").hidden = answered !== null;
if (answered === "on") document.addEventListener("click", again, { once: true });

function tone(pitchHz) {
  const [source, volume] = [audio.createOscillator(), audio.createGain()];
  source.frequency.value = pitchHz;
  volume.gain.setValueAtTime(0.4, audio.currentTime);
  volume.gain.exponentialRampToValueAtTime(0.001, audio.currentTime + 0.6);
  source.connect(volume).connect(audio.destination);
  source.start();
  source.stop(audio.currentTime + 0.6);
}

/* Once for each change of what is to be done. */
export function signal(action) {
  const now = action && action.kind in PITCH_HZ ? `${action.kind} ${action.run.pk} ${action.slot_s}` : "";
  if (now === last) return;
  last = now;
  if (!now) return;
  if (audio) tone(PITCH_HZ[action.kind]);
  if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.([200, 100, 200]);
}
