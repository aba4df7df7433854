// A pixel's footprint on a surface seen at a grazing angle is long and narrow. The level of detail that fits its long
// side is coarser than the one that fits its short side by log2 of the two sides' ratio, 1 / cosine.
float footprint_bias(vec3 place, vec3 n, vec3 from, float most) {
    vec3 towards = normalize(from - place);
    return max(log2(max(abs(dot(towards, n)), 0.01)), -most);
}
