#ifdef FILTERED
// Diameter of the blur of what is seen here, over pupil and shutter; negative before the plane of focus. [px]
uniform vec2 disc;                     // of the pupil's share: a + b / distance
#ifdef MOVING
in float streak;
#endif
float blur() {
    float across = disc.x + disc.y * gl_FragCoord.w;
#ifdef MOVING
    // N views fall evenly into the area that the disc sweeps; the diameter is that of a disc of the same area.
    float swept = sqrt(across * across + 1.27324 * abs(across) * streak);
    across = across < 0.0 ? -swept : swept;
#endif
    return across;
}
#else
float blur() { return 1.0; }
#endif
