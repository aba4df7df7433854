#version 330 core
// The table top's radiance: painted reflectance times the light map, a texel of the painting a pixel.
uniform sampler2D image;
uniform sampler2D light;               // irradiance, in shares of sensor saturation
#ifdef FILM
uniform sampler2D film;                // how much gleams like water
#endif
out vec4 seen;
void main() {
    vec2 uv = gl_FragCoord.xy / vec2(textureSize(image, 0));
    vec3 irradiance = texture(light, uv).rgb;
#ifdef LEAST
    irradiance = max(irradiance, vec3(LEAST));
#endif
    vec3 radiance = texture(image, uv).rgb * irradiance * 0.31830988618;
    seen = vec4(min(radiance, vec3(60000.0)), 1.0);
#ifdef FILM
    seen.a = texture(film, uv).r;
#endif
}
