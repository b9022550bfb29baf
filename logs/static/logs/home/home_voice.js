// What the patient hears and feels without looking: a voice on the phone, tones made on it, a
// vibration; and the screen kept awake. None of it is waited for: the count goes by its own clock.
home.voice = (() => {
  const TONES_HZ = { number: 660, hold: 880, let_go: 440, rest: 330, ready: 550, end: 523 };
  const TONE_S = 0.18;
  const SHAKES_MS = { number: 40, hold: 200, let_go: [60, 60, 60], rest: 400, end: [200, 100, 200] };
  let voice = null;
  let broken = false; // a voice that said it can't speak is not asked again
  let sound = null;
  let lock = null;
  let isWanted = false;

  const language = () => document.documentElement.lang.split("-")[0].toLowerCase();

  // A voice that lives on the phone: others send what they read over the network.
  function choose() {
    const voices = window.speechSynthesis?.getVoices() ?? [];
    voice =
      voices.find((one) => one.localService && one.lang.split(/[-_]/)[0].toLowerCase() === language()) ??
      null;
  }

  if (window.speechSynthesis) {
    choose();
    speechSynthesis.addEventListener?.("voiceschanged", choose);
  }

  const speaks = () => voice !== null && !broken;

  function say(words) {
    if (!speaks() || !words) return false;
    const utterance = new SpeechSynthesisUtterance(words);
    utterance.voice = voice;
    utterance.lang = voice.lang;
    utterance.onerror = ({ error }) => {
      broken ||= error !== "interrupted" && error !== "canceled";
    };
    speechSynthesis.cancel(); // late words would count wrongly
    speechSynthesis.speak(utterance);
    return true;
  }

  // Called in a tap: only then may a page make sounds.
  function wake() {
    choose();
    const Sound = window.AudioContext ?? window.webkitAudioContext;
    if (Sound) sound ??= new Sound();
    sound?.resume?.().catch?.(() => {});
  }

  function tone(kind) {
    if (!sound || !TONES_HZ[kind]) return;
    const from_s = sound.currentTime;
    const [source, loudness] = [sound.createOscillator(), sound.createGain()];
    source.frequency.value = TONES_HZ[kind];
    loudness.gain.setValueAtTime(0.4, from_s);
    loudness.gain.exponentialRampToValueAtTime(0.001, from_s + TONE_S);
    source.connect(loudness).connect(sound.destination);
    source.start(from_s);
    source.stop(from_s + TONE_S);
  }

  function cue(kind, words) {
    if (!say(words)) tone(kind);
    if (SHAKES_MS[kind]) navigator.vibrate?.(SHAKES_MS[kind]);
  }

  function quiet() {
    window.speechSynthesis?.cancel();
    navigator.vibrate?.(0);
  }

  async function keepAwake(wanted) {
    isWanted = wanted;
    const old = lock;
    lock = null;
    await old?.release?.().catch?.(() => {});
    if (!wanted || document.visibilityState !== "visible") return;
    const got = await navigator.wakeLock?.request("screen").catch(() => null);
    if (isWanted) lock = got ?? null;
    else await got?.release();
  }

  // The phone lets go of it by itself whenever the page is hidden.
  document.addEventListener("visibilitychange", () => {
    if (isWanted && document.visibilityState === "visible") keepAwake(true);
  });
  return { cue, quiet, wake, keepAwake, speaks };
})();
