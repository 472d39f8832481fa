// A tone and a buzz when a hand is needed. The tone waits for a tap, because browsers ask for one.

const PITCH_HZ = { lower: 660, read: 880 };
let audio = null;
let last = "";

document.getElementById("sound").addEventListener("click", ({ currentTarget }) => {
  const on = audio === null;
  if (on) audio = new AudioContext();
  else audio.close();
  if (!on) audio = null;
  currentTarget.setAttribute("aria-pressed", String(on));
  currentTarget.textContent = on ? "Turn the sound off" : "Turn the sound on";
  if (on) tone(660);
});

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
