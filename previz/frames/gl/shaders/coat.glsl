uniform sampler3D mirror;              // what the vehicle's middle sees, a disc about the zenith, ever more blurred
#ifndef SATIN
// How rough a curved surface looks where a pixel shows much of its turn: what it mirrors turns twice as far. Without
// this the glint in a narrow edge is seen by some views and missed by others, and shows as a pattern. After Tokuyoshi and
// Kaplanyan, "Improved Geometric Specular Antialiasing" (I3D 2019): a pixel is a Gaussian of half a pixel's deviation. An
// edge turns one way only; our blur is round, and covers as much as the long one would. A small lamp's glint in an edge
// narrower than a pixel is dimmed by that, to about half.
vec2 turn(vec3 n) {
    vec3 across = dFdx(n), up = dFdy(n);
    float one = dot(across, across), other = dot(up, up), both = dot(across, up);
    return vec2(one + other, one * other - both * both);
}
float roughened(float roughness, vec2 turned) {
    turned /= vec2(SHARPEST * SHARPEST, SHARPEST * SHARPEST * SHARPEST * SHARPEST);
    float wide = exp2(2.0 * WIDENS * roughness);
    return min(log2(wide * (wide + turned.x) + turned.y) / (4.0 * WIDENS), 1.0);
}
#endif
// A clear coat of index 1.5 over a diffuse colour.
vec3 mirrored(vec3 direction, float roughness) {
    vec2 place = direction.xy * inversesqrt(max(8.0 * (1.0 + direction.z), 1e-6)) + 0.5;
    return texture(mirror, vec3(place, (roughness * (MIRRORS - 1.0) + 0.5) / MIRRORS)).rgb;
}
vec3 coated(vec3 under, float strength, vec3 n, vec3 towards_eye) {
    vec3 facing = normalize(n), to_eye = normalize(towards_eye);
    float roughness = 1.0 - strength;
#ifndef SATIN
    roughness = roughened(roughness, turn(facing));
#endif
    float cosine = dot(facing, to_eye);
    if (cosine < 0.0) facing = -facing;
    cosine = min(abs(cosine), 1.0);
    // Schlick's approximation of Fresnel reflection, 4 % at normal incidence for index 1.5 (Computer Graphics Forum
    // 13(3), 1994). A rough coat never becomes the full mirror that a smooth one is at a grazing angle.
    float grazing = max(strength, 0.04), off = 1.0 - cosine, off_squared = off * off;
    float fresnel = (0.04 + (grazing - 0.04) * off_squared * off_squared * off) * strength;
    // The glint of a lamp in an edge is far above white in a few views and missed by the rest: what is cut off here is
    // what would show as loose bright dots.
    vec3 glint = min(mirrored(reflect(-to_eye, facing), roughness) * fresnel, 1.5);
    return under * (1.0 - fresnel) + glint;
}
