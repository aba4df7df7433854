#ifdef MOVING
// How far a point moves over the picture while the shutter is open.
uniform mat4 clip_opened;
uniform mat4 clip_closed;
uniform vec2 half_size;                // of the picture [px]
#if defined(SMEARED) || defined(SURVEY)
out vec2 streak;                       // [px]
#define TELL_STREAK(way) streak = way
#else
out float streak_length;               // all that is asked for, and less to interpolate [px]
#define TELL_STREAK(way) streak_length = length(way)
#endif
void set_streak(vec4 opened, vec4 closed) {
    vec4 first = clip_opened * opened, last = clip_closed * closed;
    TELL_STREAK((last.xy / max(last.w, 0.001) - first.xy / max(first.w, 0.001)) * half_size);
}
#endif
